"""The cheapest change that makes a backdrop as dark as wanted, each one placed and measured."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from render.errors import KitError, OutputError, SceneError
from render.photometry.exposure import linear_value, luminous_exposure_for
from render.photometry.srgb import luminance
from render.photometry.stops import stops
from render.plan.who.darker import PAPER, Family, families
from render.plan.who.settings import Step, together
from render.plan.who.taken import Taken, exposed
from render.plan.who.tones import WHITE_FROM, Word, code_of, least_light, most_light
from render.plan.who.trials import CannotError, Cure, Goal, lightest, so_many, try_step
from render.report.held import ALL
from render.report.readings import meter_speed, wanted_f_numbers
from render.trace import Engine

Floats = NDArray[np.float64]
MEETS_STOPS = 0.1  # a wish is met within what a flash meter shows
LEAST_STOPS = 0.05  # a change that darkens by less shows as +0.0
MOST_TOGETHER = 3  # changes that are combined where none is enough


@dataclass(frozen=True, slots=True)
class Cures:
    """What is wanted of the backdrop, what it is, and what helps."""

    wanted: str
    wanted_code: float  # no more than that; of white, no less
    code: float  # of the lightest place as it stands; where white is wanted, of the darkest
    over_stops: float  # above what is wanted; negative where it is darker
    met: bool
    key: str
    cures: tuple[Cure, ...]  # those that do first, then the least work, then the darkest
    left_out: tuple[str, ...]  # what cannot be done here, and why


def goal_of(taken: Taken, want: Word | None) -> Goal | None:
    """What is wanted of the backdrop: by a word, else by the first wish for all lights on it.

    Raises OutputError for a word without a place on a backdrop.
    """
    names = [taken.layout.points[held.point].name for held in taken.held[:-1]]
    rows = [i for i in range(len(names)) if _on_backdrop(taken, i)]
    if want is not None:
        if not rows:
            raise OutputError(f"--want: found {want} (accepted: with a place on a backdrop)")
        most = most_light(want)
        return Goal(f"--want {want}", tuple(rows), most, most)
    wanted = taken.setup.scene.wanted
    numbers = wanted_f_numbers(taken.setup)
    for (name, wish), number in zip(wanted.items(), numbers, strict=True):
        row = names.index(wish.point) if wish.point in names else -1
        if wish.light == ALL and row in rows:
            aim = _light_wished(taken, number)
            play = max(MEETS_STOPS, wish.range_stops[1] if wish.range_stops else 0.0)
            return Goal(f"wanted.{name}", (row,), aim, aim * float(2.0**play))
    return None


def _on_backdrop(taken: Taken, row: int) -> bool:
    return taken.layout.points[taken.held[row].point].on == "backdrop"


def _light_wished(taken: Taken, f_number: float) -> float:
    """Linear luminance of the paper that hangs there where a meter on it shows an f-number."""
    sheet = next(each for each in taken.layout.sheets if each.kind == "backdrop")
    constant = taken.setup.scene.meter.c_flat
    light = luminous_exposure_for(f_number, meter_speed(taken.setup), constant)
    leaves = float(luminance(np.array(sheet.reflectance))) * float(light) / math.pi
    number, speed = exposed(taken)
    return float(linear_value(leaves, speed, number, constant))


def _white(taken: Taken, goal: Goal) -> Cures:
    """How far the darkest place is from white; no change is tried, since none would darken."""
    now = min(lightest(taken, [row]) for row in goal.rows)
    least = least_light()
    key = taken.layout.fronts[taken.layout.key].name
    over = float(stops(now / least)) if now > 0 else 0.0
    return Cures(goal.said, WHITE_FROM, code_of(now), over, now >= least, key, (), ())


@dataclass(frozen=True, slots=True)
class _Bench:
    """What is the same for every trial."""

    taken: Taken
    goal: Goal
    engine: Engine | None
    tell: Callable[[str], None]
    left_out: list[str]


def cheapest(
    taken: Taken,
    want: Word | None,
    *,
    engine: Engine | None,
    tell: Callable[[str], None] = lambda _: None,
) -> Cures | None:
    """Try changes where the backdrop is lighter than wanted; None where nothing is wanted of it.

    taken : the set-up as it stands
    tell  : called with the name of each change before it is tried
    Raises OutputError, EngineError.
    """
    goal = goal_of(taken, want)
    if goal is None:
        return None
    if want == "white":
        return _white(taken, goal)
    now = lightest(taken, goal.rows)
    met = now <= goal.most
    found: list[Cure] = []
    left_out: list[str] = []
    if not met:
        bench = _Bench(taken, goal, engine, tell, left_out)
        found = _tried(bench, families(taken, list(goal.rows), goal.most, now))
    found.sort(key=lambda cure: (not cure.meets, cure.effort if cure.meets else cure.code))
    return Cures(
        wanted=goal.said,
        wanted_code=code_of(min(goal.aim, 1.0)),
        code=code_of(now),
        over_stops=float(stops(now / goal.aim)) if now > 0 and math.isfinite(goal.aim) else 0.0,
        met=met,
        key=taken.layout.fronts[taken.layout.key].name,
        cures=tuple(found),
        left_out=tuple(left_out),
    )


def _tried(bench: _Bench, all_: tuple[Family, ...]) -> list[Cure]:
    """The best of each family; where none is enough, or only another backdrop, some together."""
    best = [each for each in (_best(bench, family) for family in all_) if each is not None]
    found = [cure for _, cure in best]
    best.sort(key=lambda each: each[1].code)
    same_paper = [step for step, cure in best if step.effort != PAPER]
    if not any(cure.meets for step, cure in best if step.effort != PAPER):
        found += _combined(bench, same_paper)
    if not any(cure.meets for cure in found):
        found += _combined(bench, [step for step, _ in best])
    return found


def _combined(bench: _Bench, steps: list[Step]) -> list[Cure]:
    """Of the first few steps, two and then three together: what is enough, else the darkest."""
    some = steps[:MOST_TOGETHER]
    lenient = replace(bench, left_out=[])
    groups = [g for count in range(2, len(some) + 1) for g in combinations(some, count)]
    best = _best(lenient, tuple(together(group) for group in groups))
    return [] if best is None else [best[1]]


def _best(bench: _Bench, family: Family) -> tuple[Step, Cure] | None:
    """The first of a family that is enough, else the darkest; says why where none can be done."""
    best: tuple[Step, Cure] | None = None
    why = ""
    for change in family:
        bench.tell(change.name)
        try:
            cure = try_step(bench.taken, bench.goal, change, bench.engine)
        except (SceneError, KitError) as problem:
            why = why or f"{change.name}: {problem.found}"
            continue
        except CannotError as problem:
            why = why or f"{change.name}: {problem}"
            continue
        if best is None or cure.code < best[1].code:
            best = (change, cure)
        if cure.meets:
            return change, cure
    if best is not None and best[1].stops > -LEAST_STOPS:
        more = best[1].stops
        said = f"{so_many(more)} lighter" if more > LEAST_STOPS else "changes nothing"
        bench.left_out.append(f"{best[0].name}: {said}")
        return None
    if best is None:
        bench.left_out.append(why)
    return best
