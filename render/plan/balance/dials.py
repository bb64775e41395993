"""The dials of the flash heads: from full power down, in the steps that each head has."""

from __future__ import annotations

import math
from dataclasses import dataclass

from render.errors import SceneError
from render.layout.lamps import listed
from render.photometry.stops import show_power
from render.scenefile import Setup

# Steps are marked in two figures (0.33); what is this near a whole number of clicks a stop is meant
# to be one.
CLICKS_TOLERANCE = 0.05
TENTHS = 10


@dataclass(frozen=True, slots=True)
class Dial:
    """One light's power range, in stops below full."""

    light: str
    now: float  # [stops], 0 is full power, below it negative
    least: float  # [stops]
    step: float  # [stops], 0 for stepless
    turns: bool  # False where the power stays as it is
    why: str = ""  # it stays


def dials(setup: Setup, idle: bool = False) -> tuple[Dial, ...]:
    """The dial of every light, in the order of the scene.

    idle : whether all may stay as they are, since something else is set
    Raises SceneError where none may be turned.
    """
    found = tuple(_dial(setup, name) for name in setup.scene.light)
    if not idle and not any(dial.turns for dial in found):
        raise SceneError(
            setup.file,
            "light",
            "no power to set: " + "; ".join(f"{dial.light} {dial.why}" for dial in found),
            "at least one flash head that is on, without fixed = true",
        )
    return found


def _dial(setup: Setup, name: str) -> Dial:
    light = setup.scene.light[name]
    now = math.log2(light.power)
    if not light.on:
        return Dial(name, now, now, 0.0, False, "is off")
    if light.flash is None:
        return Dial(name, now, now, 0.0, False, "states its light and has no dial")
    flash = listed(setup, f"light.{name}.flash", light.flash, setup.kit.flash)
    step = click(flash.power_step_stops)
    least = -flash.power_range_stops
    if step:
        least = -step * math.floor(flash.power_range_stops / step + CLICKS_TOLERANCE)
    if light.fixed:
        return Dial(name, now, least, step, False, "is fixed")
    return Dial(name, now, least, step, True)


def click(step_stops: float) -> float:
    """One click [stops] as it is meant: 0.33 is a third of a stop."""
    if not step_stops:
        return 0.0
    clicks = round(1 / step_stops)
    near = clicks > 0 and abs(1 / step_stops - clicks) < CLICKS_TOLERANCE * clicks
    return 1 / clicks if near else step_stops


def marking(below: float, step: float) -> str:
    """A power as the head's dial and the scene file write it, "1/8 +0.3".

    below : float  from full power, 0 or negative [stops]
    step  : float  one click [stops]; steps that are no tenths are written to a hundredth
    """
    tenths = below * TENTHS
    if step and abs(step * TENTHS - round(step * TENTHS)) < 1e-6:
        return show_power(2.0**below)
    if step and abs(tenths - round(tenths)) < 1e-6:
        return show_power(2.0**below)
    whole = math.floor(below + 0.005)
    part = round(below - whole, 2)
    mark = f"1/{2**-whole}"
    return f"{mark} +{part:.2f}" if part > 0 else mark
