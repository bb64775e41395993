"""What a result must hold to be right, as far as it can be told without knowing the input."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from render.errors import TenthstopError
from render.report.held import ALL
from render.report.readings import Readings, meter
from render.scenefile import Setup

MOST_OFF = 1e-9  # of a reading: rounding


def finite(found: Any) -> None:
    """Raise AssertionError where a result holds a number that is none."""
    if dataclasses.is_dataclass(found) and not isinstance(found, type):
        for field in dataclasses.fields(found):
            finite(getattr(found, field.name))
    elif isinstance(found, dict):
        finite(list(found.values()))
    elif isinstance(found, list | tuple):
        for each in found:
            finite(each)
    elif isinstance(found, float):
        assert math.isfinite(found), found


def dimmed(setup: Setup, before: Readings) -> None:
    """Raise AssertionError unless half a light's power halves its own reading and no other's."""
    name, light = next(iter(setup.scene.light.items()))
    if not light.on:
        return
    lights = {**setup.scene.light, name: light.model_copy(update={"power": light.power / 2})}
    less = dataclasses.replace(setup, scene=setup.scene.model_copy(update={"light": lights}))
    try:
        after = meter(less, bounce=False)
    except TenthstopError:  # below the dial of its head
        return
    for one, other in zip(before.readings, after.readings, strict=True):
        found, whole = other.luminous_exposure_lx_s, one.luminous_exposure_lx_s
        if one.lights == name:
            assert abs(found - whole / 2) <= MOST_OFF * whole, (one, other)
        elif one.lights == ALL:
            assert whole / 2 * (1 - MOST_OFF) <= found <= whole * (1 + MOST_OFF), (one, other)
        else:
            assert abs(found - whole) <= MOST_OFF * whole, (one, other)
