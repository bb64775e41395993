"""What `balance` found, row by row: dials, other settings, wishes; fields are the JSON keys."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.photometry.exposure import f_number
from render.photometry.stops import show_f_number
from render.plan.balance.dials import Dial, marking
from render.plan.balance.limits import AT_END_STOPS, from_first_stops, tolerances
from render.plan.balance.responses import Responses
from render.plan.balance.solve import Problem, missed, off_by
from render.plan.balance.unknowns import STEPS, Unknown
from render.report.readings import meter_speed
from render.studio.scene import Aim, Receptor

Floats = NDArray[np.float64]
AT_END = 1e-3  # of a range, within which a value is at its end


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
class SettingRow:
    """One key that was free besides the powers."""

    key: str
    now: float
    solved: float  # before rounding
    value: float  # as it can be set
    low: float  # ends of its range
    high: float
    range_from: str  # where they come from, in words
    at_end: str  # "low", "high" or ""

    @property
    def part(self) -> str:
        """The last word of the key."""
        return self.key.rsplit(".", 1)[-1]

    @property
    def part_of_camera(self) -> bool:
        """Whether it is set on the camera."""
        return self.key.startswith("camera.")


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
    standard_error_stops: float  # of this reading, by the traced bounce


@dataclass(frozen=True, slots=True)
class Stage:
    """Powers in a set-up: the present one, the one before rounding, or the one to set."""

    found: Responses  # whose ISO speed and receptors count
    problem: Problem
    below: Floats  # (m,) [stops under full]

    @property
    def f_numbers(self) -> Floats:
        """What the meter shows for each wish (n,)."""
        meter = self.found.setup.scene.meter
        constant = {"flat": meter.c_flat, "dome": meter.c_dome}
        light = self.problem.full @ np.exp2(self.below)
        constants = np.array([constant[each.receptor] for each in self.found.held])
        return np.asarray(f_number(light / constants, meter_speed(self.found.setup), 1.0))


def power_row(now: Dial, free: float, dialled: float, calibration: str) -> PowerRow:
    """One dial before and after its clicks [stops under full]."""
    return PowerRow(
        light=now.light,
        now=2.0**now.now,
        now_shown=marking(now.now, now.step),
        solved=2.0**free,
        solved_stops=free,
        power=2.0**dialled,
        shown=marking(dialled, now.step),
        change_stops=dialled - now.now,
        step_stops=now.step,
        at_end=_dial_end(now, free),
        stays=now.why,
        calibration=calibration,
    )


def _dial_end(dial: Dial, free: float) -> str:
    if not dial.turns:
        return ""
    if free >= -AT_END_STOPS:
        return "full power"
    return "least power" if free <= dial.least + AT_END_STOPS else ""


def setting_row(unknown: Unknown, solved: float, value: float) -> SettingRow:
    """One setting before and after rounding."""
    near = STEPS.get(unknown.part, AT_END)
    at_end = (
        "low" if solved - unknown.low < near else "high" if unknown.high - solved < near else ""
    )
    return SettingRow(
        key=unknown.key,
        now=unknown.now,
        solved=solved,
        value=value,
        low=unknown.low,
        high=unknown.high,
        range_from=unknown.source,
        at_end=at_end,
    )


def wish_rows(now: Stage, solved: Stage, end: Stage) -> tuple[WishOutcome, ...]:
    """Every wish at present, before rounding and as it would be set."""
    found = end.found
    off = [off_by(each.problem, each.below) for each in (now, solved, end)]
    numbers = [each.f_numbers for each in (now, solved, end)]
    miss = missed(end.problem, end.below)
    met = np.abs(miss) <= tolerances(found)
    error = standard_errors(end)
    rows = []
    for i, (name, wish) in enumerate(found.setup.scene.wanted.items()):
        before, ideal, after = (float(each[i]) for each in numbers)
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
                least_off_stops=float(end.problem.low[i]),
                most_off_stops=float(end.problem.high[i]),
                now_f_number=before,
                now=show_f_number(before),
                now_off_stops=float(off[0][i]),
                solved_f_number=ideal,
                solved=show_f_number(ideal),
                solved_off_stops=float(off[1][i]),
                f_number=after,
                shown=show_f_number(after),
                off_stops=float(off[2][i]),
                missed_stops=float(miss[i]),
                met=bool(met[i]),
                standard_error_stops=float(error[i]),
            )
        )
    return tuple(rows)


def standard_errors(end: Stage) -> Floats:
    """Standard errors (n,) [stops] of the readings."""
    power = np.exp2(end.below)
    light = end.problem.full @ power
    error = np.sqrt(end.found.error**2 @ power**2)
    found: Floats = np.divide(error, light, out=np.zeros(len(light)), where=light > 0) / np.log(2)
    return found


def rounding_cost(solved: Stage, end: Stage) -> tuple[float, str | None]:
    """What rounding takes from the worst-hit wish [stops], and which that is."""
    lost = np.abs(missed(end.problem, end.below)) - np.abs(missed(solved.problem, solved.below))
    worst = int(np.argmax(lost))
    if lost[worst] <= 0:
        return 0.0, None
    return float(lost[worst]), list(end.found.setup.scene.wanted)[worst]
