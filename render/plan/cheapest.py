"""The cheapest change that makes a backdrop as dark as wanted, each one placed and measured."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.errors import KitError, OutputError, SceneError
from render.photometry.exposure import linear_value, luminous_exposure_for
from render.photometry.srgb import luminance
from render.photometry.stops import stops
from render.plan.darker import Family, families
from render.plan.settings import Step, together
from render.plan.taken import Taken, exposed
from render.plan.tones import Word, code_of, most_light
from render.plan.trials import CannotError, Cure, Goal, lightest, try_step
from render.report.held import ALL
from render.report.readings import meter_speed
from render.trace import Engine

Floats = NDArray[np.float64]
MEETS_STOPS = 0.1  # a wish is met within what a flash meter shows
LEAST_STOPS = 0.05  # a change that darkens by less shows as +0.0
MOST_TOGETHER = 3  # changes that are combined where none is enough


@dataclass(frozen=True, slots=True)
class Cures:
    """What is wanted of the backdrop, what it is, and what helps."""

    wanted: str
    wanted_code: float  # the most that does
    code: float  # of the lightest place as it stands
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
        return Goal(f"--want {want}", tuple(rows), most_light(want))
    anchor = next((w.f_number for w in taken.setup.scene.wanted.values() if w.f_number), None)
    for name, wish in taken.setup.scene.wanted.items():
        if wish.light != ALL or wish.point not in names:
            continue
        row = names.index(wish.point)
        number = wish.f_number or (anchor or 0.0) * 2 ** ((wish.stops or 0.0) / 2)
        if row in rows and number > 0:
            return Goal(f"wanted.{name}", (row,), _light_wished(taken, number))
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
    return float(linear_value(leaves, speed, number, constant)) * float(2.0**MEETS_STOPS)


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
        wanted_code=code_of(goal.most) if math.isfinite(goal.most) else 255.0,
        code=code_of(now),
        over_stops=float(stops(now / goal.most)) if now > 0 and math.isfinite(goal.most) else 0.0,
        met=met,
        key=taken.layout.fronts[taken.layout.key].name,
        cures=tuple(found),
        left_out=tuple(left_out),
    )


def _tried(bench: _Bench, all_: tuple[Family, ...]) -> list[Cure]:
    """The best of each family; where none is enough, the best ones together."""
    best = [each for each in (_best(bench, family) for family in all_) if each is not None]
    found = [cure for _, cure in best]
    helps = sorted(best, key=lambda each: each[1].code)
    for count in range(2, min(MOST_TOGETHER, len(helps)) + 1):
        if any(cure.meets for cure in found):
            break
        both = _best(bench, (together(change for change, _ in helps[:count]),))
        found += [both[1]] if both is not None else []
    return found


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
        said = f"{more:.1f} stop lighter" if more > LEAST_STOPS else "changes nothing"
        bench.left_out.append(f"{best[0].name}: {said}")
        return None
    if best is None:
        bench.left_out.append(why)
    return best
