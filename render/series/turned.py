"""Re-metered: the key turned until the face reads as it does in the first cell."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from render.errors import OutputError
from render.layout.lamps import light_alone
from render.photometry.stops import show_f_number, stops
from render.plan.who.taken import constant_of, reading_of, relit
from render.report.readings import meter_speed
from render.series.run import Run

DIAL_SLACK_STOPS = 1e-6  # of rounding


@dataclass(frozen=True, slots=True)
class Turned:
    """A run with its key at another power."""

    run: Run
    power: float  # of the key, share of full; above 1 where the head cannot
    change_stops: float  # from the power that the scene file says
    beyond_stops: float  # what the dial lacks: positive above full, negative below its least


def as_set(run: Run) -> Turned:
    """The run as its cell says it."""
    name = run.taken.layout.fronts[run.key].name
    return Turned(run, run.taken.setup.scene.light[name].power, 0.0, 0.0)


def face_number(run: Run) -> float:
    """f-number at the face, all lights that it is read with."""
    return reading_of(run.taken.setup, float(run.taken.light(-1).sum()), run.taken.held[-1])


@dataclass(frozen=True, slots=True)
class Goal:
    """What the first cell sets: which light is turned, and what the face is to read."""

    key: str
    f_number: float


def goal_of(first: Run) -> Goal:
    """The reading that the other cells are brought to."""
    return Goal(first.taken.layout.fronts[first.key].name, face_number(first))


def turned(run: Run, goal: Goal) -> Turned:
    """The run with its key turned until the face reads an f-number, not in the dial's steps.

    The other lights stay. A power that the head has not is taken all the same, and said.
    Raises OutputError where no power of the key brings that reading.
    """
    taken = run.taken
    setup, front = taken.setup, taken.layout.fronts[run.key]
    if front.name != goal.key:
        raise OutputError(
            f"cannot be re-metered: its key is the {front.name} light, not the {goal.key} light "
            "(accepted: --exposure kept)"
        )
    light = taken.light(-1)
    others = float(light.sum() - light[run.key])
    needed = goal.f_number**2 * constant_of(setup, taken.held[-1]) / meter_speed(setup) - others
    if light[run.key] <= 0 or needed <= 0:
        without = show_f_number(reading_of(setup, others, taken.held[-1]))
        raise OutputError(
            f"its face cannot be re-metered to {show_f_number(goal.f_number)}: the "
            f"{front.name} light gives it nothing, or the rest alone gives it {without} "
            "(accepted: --exposure kept)"
        )
    lamp = setup.scene.light[front.name]
    more = float(stops(needed / light[run.key]))
    power = lamp.power * 2.0**more
    least = 0.0
    if lamp.flash is not None:
        least = 2.0 ** -setup.kit.flash[lamp.flash].power_range_stops
    within = float(np.clip(power, least, 1.0))
    # Its colour is that of the nearest power which the head has.
    alone, _ = light_alone(setup, lamp.model_copy(update={"power": within}))
    alone = replace(alone, luminous_energy_lm_s=alone.luminous_energy_lm_s * power / within)
    beyond = float(stops(power / within))
    beyond = beyond if abs(beyond) > DIAL_SLACK_STOPS else 0.0
    return Turned(replace(run, taken=relit(taken, setup, alone)), power, more, beyond)
