"""The cheapest change that brings a place to what is wanted, each one placed and measured."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

from render.errors import KitError, SceneError
from render.photometry.stops import show_f_number
from render.plan.changes.settings import PAPER, Family, Step, so_many, together
from render.plan.who.families import families
from render.plan.who.goals import Goal, Way, goals_of, worst
from render.plan.who.taken import Taken
from render.plan.who.tones import Word, code_of
from render.plan.who.trials import CannotError, Cure, try_step
from render.trace import Engine

FAR_PAST_STOPS = 0.5  # beyond what is wanted; by more it is another picture; common practice
LEAST_STOPS = 0.05  # a change that helps by less shows as +0.0
NO_LIGHT = "no light"
MOST_TOGETHER = 3  # changes that are combined where none is enough


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is wanted, what it is, and what helps; its fields are the keys of the JSON output."""

    wanted: str  # "wanted.paper", "--want black"
    wanted_shown: str  # "code 15 or less", "f/4 +0.0"
    points: tuple[str, ...]
    lights: str  # that are fired: a light's name, or "all"
    shown: str  # as it is: of several places, of the one that is farthest off
    code: float | None  # of it, where a tone of the backdrop is wanted
    off_stops: float  # outside what is wanted; + is too bright
    met: bool
    key: str
    cures: tuple[Cure, ...]  # those that do first, then the least work, then the nearest
    left_out: tuple[str, ...]  # what cannot be done here, and why


@dataclass(frozen=True, slots=True)
class _Bench:
    """What is the same for every trial."""

    taken: Taken
    goal: Goal
    way: Way
    off_stops: float
    engine: Engine | None
    tell: Callable[[str], None]
    left_out: list[str]


def cheapest(
    taken: Taken,
    want: Word | float | None,
    *,
    engine: Engine | None,
    tell: Callable[[str], None] = lambda _: None,
) -> tuple[Verdict, ...]:
    """Try changes for every place that is not as wanted; nothing where nothing is wanted.

    taken : the set-up as it stands
    want  : a word for the backdrop, or stops from the face reading; None takes the wishes
    tell  : called with the name of each change before it is tried
    Raises OutputError, EngineError.
    """
    return tuple(verdict_on(taken, goal, engine, tell) for goal in goals_of(taken, want))


def verdict_on(
    taken: Taken, goal: Goal, engine: Engine | None, tell: Callable[[str], None]
) -> Verdict:
    """One goal: what it is, and the changes tried where it is missed; see `cheapest`."""
    level, way = worst(taken, goal)
    off = goal.off_stops(level)
    met = abs(off) <= goal.play_stops
    found: list[Cure] = []
    left_out: list[str] = []
    if not met:
        bench = _Bench(taken, goal, way, off, engine, tell, left_out)
        edge = goal.high if way == "darker" else goal.low
        gain = edge / level if level > 0 else math.inf
        found = _tried(bench, families(taken, goal, gain))
    first = taken.held[goal.rows[0]]
    return Verdict(
        wanted=goal.said,
        wanted_shown=goal.wanted,
        points=tuple(taken.layout.points[taken.held[row].point].name for row in goal.rows),
        lights=first.lights,
        shown=_shown(level, goal.tone),
        code=code_of(level) if goal.tone else None,
        off_stops=off,
        met=met,
        key=taken.layout.fronts[taken.layout.key].name,
        cures=tuple(sorted(found, key=lambda cure: _rank(cure, goal))),
        left_out=tuple(left_out),
    )


def _shown(level: float, tone: bool) -> str:
    if level <= 0:
        return NO_LIGHT
    return f"code {code_of(level):.0f}" if tone else show_f_number(level**0.5)


def _rank(cure: Cure, goal: Goal) -> tuple[bool, bool, bool, float, float]:
    """Of those that are enough, not far past it nor with harm to other wishes, the least work.

    Those that are not enough follow, the nearest first.
    """
    off = abs(cure.off_stops)
    if not cure.meets:
        return True, False, False, off, 0.0
    return False, goal.exact and off > FAR_PAST_STOPS, bool(cure.upsets), cure.effort, off


def _tried(bench: _Bench, all_: tuple[Family, ...]) -> list[Cure]:
    """The best of each family; where none is enough, or only another backdrop, some together."""
    best = [each for each in (_best(bench, family) for family in all_) if each is not None]
    found = [cure for _, cure in best]
    best.sort(key=lambda each: abs(each[1].off_stops))
    same_paper = [step for step, cure in best if step.effort != PAPER]
    if not any(cure.meets for step, cure in best if step.effort != PAPER):
        found += _combined(bench, same_paper)
    if len(same_paper) < len(best) and not any(cure.meets for cure in found):
        found += _combined(bench, [step for step, _ in best])
    return list({cure.name: cure for cure in found}.values())


def _combined(bench: _Bench, steps: list[Step]) -> list[Cure]:
    """Of the first few steps, two and then three together: what is enough, else the nearest."""
    some = steps[:MOST_TOGETHER]
    lenient = replace(bench, left_out=[])
    groups = [g for count in range(2, len(some) + 1) for g in combinations(some, count)]
    best = _best(lenient, tuple(together(group) for group in groups))
    return [] if best is None else [best[1]]


def _best(bench: _Bench, family: Family) -> tuple[Step, Cure] | None:
    """The first of a family that is enough, else the nearest; says why where none can be done."""
    best: tuple[Step, Cure] | None = None
    why = ""
    for change in family:
        bench.tell(change.name)
        try:
            cure = try_step(bench.taken, bench.goal, bench.way, change, bench.engine)
        except (SceneError, KitError) as problem:
            why = why or f"{change.name}: {problem.found}"
            continue
        except CannotError as problem:
            why = why or f"{change.name}: {problem}"
            continue
        if best is None or abs(cure.off_stops) < abs(best[1].off_stops):
            best = (change, cure)
        if cure.meets:
            return change, cure
    if best is not None and abs(best[1].off_stops) > abs(bench.off_stops) - LEAST_STOPS:
        more = best[1].stops
        way = "brighter" if more > 0 else "darker"
        said = f"{so_many(more)} {way}" if abs(more) > LEAST_STOPS else "changes nothing"
        bench.left_out.append(f"{best[0].name}: {said}")
        return None
    if best is None and why:
        bench.left_out.append(why)
    return best
