"""Powers for the wanted readings, in the heads' own steps, and what to do where none will do."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.photometry.exposure import f_number
from render.photometry.stops import show_f_number
from render.plan.balance.cures import Cure, find_cures
from render.plan.balance.dials import Dial, marking
from render.plan.balance.limits import AT_END_STOPS, Limit, from_first_stops, limits, tolerances
from render.plan.balance.responses import Responses, respond
from render.plan.balance.solve import missed, off_by, on_clicks, solve
from render.report.readings import BOUNCE_SAMPLES, meter_speed
from render.scenefile import Setup
from render.studio.scene import Aim, Receptor
from render.trace import Engine

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PowerRow:
    """One light's dial; its fields are the keys of the JSON and CSV output."""

    light: str
    now: float  # share of full power
    now_shown: str
    solved: float  # before rounding
    solved_stops: float  # below full
    power: float  # on the dial
    shown: str
    change_stops: float
    step_stops: float  # 0 for stepless
    at_end: str  # "full power", "least power" or ""
    stays: str  # why it is not turned, or ""
    calibration: str


@dataclass(frozen=True, slots=True)
class WishOutcome:
    """One wanted reading and what is predicted for it."""

    name: str
    point: str
    lights: str
    receptor: Receptor
    aim: Aim
    wanted_f_number: float
    wanted: str
    wanted_stops: float  # from the first wish with an f-number
    least_off_stops: float  # its range
    most_off_stops: float
    now_f_number: float
    now: str
    now_off_stops: float
    solved_f_number: float  # before rounding
    solved: str
    solved_off_stops: float
    f_number: float  # on the dials
    shown: str
    off_stops: float
    missed_stops: float  # outside its range
    met: bool  # to half a click, at least half a tenth


@dataclass(frozen=True, slots=True)
class Balance:
    """Powers and wishes of a scene."""

    scene: str
    iso_speed: float
    met: bool
    powers: tuple[PowerRow, ...]
    wishes: tuple[WishOutcome, ...]
    rounding_cost_stops: float  # that the worst-hit wish loses by the dials' clicks
    rounding_wish: str | None  # that one
    limits: tuple[Limit, ...]
    cures: tuple[Cure, ...]  # best first


def balance(
    setup: Setup,
    *,
    bounce: bool = True,
    engine: str = "auto",
    samples: int = BOUNCE_SAMPLES,
    cures: bool = True,
    progress: Callable[[str], None] | None = None,
) -> Balance:
    """Find the powers that come nearest to `[wanted]`.

    bounce   : with what the room gives back, traced backwards from each receptor
    engine   : "auto", "cuda", "llvm" or "scalar"
    samples  : paths per receptor for the bounce
    cures    : try some where a wish is out of reach, about a second each
    progress : told each cure that is about to be tried
    returns  : Balance
    Raises SceneError, KitError, MeshError and, with bounce, EngineError.
    """
    with Engine(engine) if bounce else nullcontext() as running:
        found = respond(setup, running, samples)
        free = solve(found.problem)
        cured = find_cures(found, free, running, progress) if cures else ()
    dialled = on_clicks(found.problem, free)
    wishes = _wishes(found, free, dialled)
    cost, wish = _rounding(found, free, dialled)
    return Balance(
        scene=setup.scene.title,
        iso_speed=meter_speed(setup),
        met=all(each.met for each in wishes),
        powers=tuple(
            _power(found, j, float(free[j]), float(dialled[j])) for j in range(len(found.dials))
        ),
        wishes=wishes,
        rounding_cost_stops=cost,
        rounding_wish=wish,
        limits=limits(found, free),
        cures=tuple(each.cure for each in cured),
    )


def _power(found: Responses, j: int, free: float, dialled: float) -> PowerRow:
    dial: Dial = found.dials[j]
    return PowerRow(
        light=dial.light,
        now=2.0**dial.now,
        now_shown=marking(dial.now, dial.step),
        solved=2.0**free,
        solved_stops=free,
        power=2.0**dialled,
        shown=marking(dialled, dial.step),
        change_stops=dialled - dial.now,
        step_stops=dial.step,
        at_end=_end(dial, free),
        stays=dial.why,
        calibration=found.layout.calibrations[j],
    )


def _end(dial: Dial, free: float) -> str:
    if not dial.turns:
        return ""
    if free >= -AT_END_STOPS:
        return "full power"
    return "least power" if free <= dial.least + AT_END_STOPS else ""


def _wishes(found: Responses, free: Floats, dialled: Floats) -> tuple[WishOutcome, ...]:
    problem = found.problem
    off = [off_by(problem, below) for below in (problem.now, free, dialled)]
    shown = [_f_numbers(found, below) for below in (problem.now, free, dialled)]
    miss = missed(problem, dialled)
    met = np.abs(miss) <= tolerances(found)
    rows = []
    for i, (name, wish) in enumerate(found.setup.scene.wanted.items()):
        now, solved, after = (float(each[i]) for each in shown)
        rows.append(
            WishOutcome(
                name=name,
                point=wish.point,
                lights=wish.light,
                receptor=found.held[i].receptor,
                aim=found.held[i].aim,
                wanted_f_number=found.wanted[i],
                wanted=show_f_number(found.wanted[i]),
                wanted_stops=from_first_stops(found, i, 0.0),
                least_off_stops=float(problem.low[i]),
                most_off_stops=float(problem.high[i]),
                now_f_number=now,
                now=show_f_number(now),
                now_off_stops=float(off[0][i]),
                solved_f_number=solved,
                solved=show_f_number(solved),
                solved_off_stops=float(off[1][i]),
                f_number=after,
                shown=show_f_number(after),
                off_stops=float(off[2][i]),
                missed_stops=float(miss[i]),
                met=bool(met[i]),
            )
        )
    return tuple(rows)


def _f_numbers(found: Responses, below: Floats) -> Floats:
    """The f-number that the meter shows for each wish (n,)."""
    meter = found.setup.scene.meter
    constant = {"flat": meter.c_flat, "dome": meter.c_dome}
    light = found.problem.full @ np.exp2(below)
    constants = np.array([constant[each.receptor] for each in found.held])
    return np.asarray(f_number(light / constants, meter_speed(found.setup), 1.0))


def _rounding(found: Responses, free: Floats, dialled: Floats) -> tuple[float, str | None]:
    """What the clicks take from the worst-hit wish, and which that is."""
    lost = np.abs(missed(found.problem, dialled)) - np.abs(missed(found.problem, free))
    worst = int(np.argmax(lost))
    if lost[worst] <= 0:
        return 0.0, None
    return float(lost[worst]), list(found.setup.scene.wanted)[worst]
