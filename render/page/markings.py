"""Powers in stops, as a slider gives them, as the marking on the head's own dial."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from render.errors import SceneError
from render.plan.balance.dials import dials, marking
from render.scenefile import Setup

ENDING = ".power_stops"


def with_markings(setup: Setup, keys: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of the page as keys of the scene file.

    "light.key.power_stops": -2.3 becomes "light.key.power": "1/8 +0.7", on the nearest click of the
    head and between its ends. Raises SceneError.
    """
    found = dict(keys)
    for key in [key for key in keys if key.endswith(ENDING)]:
        name = key.removeprefix("light.").removesuffix(ENDING)
        if name not in setup.scene.light:
            raise SceneError(setup.file, key, "unknown light", ", ".join(setup.scene.light))
        value = found.pop(key)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not math.isfinite(value):
            raise SceneError(setup.file, key, f"found {str(value)[:60]}", "stops, 0 or negative")
        found[f"light.{name}.power"] = _marking(setup, name, float(value))
    return found


def _marking(setup: Setup, name: str, below: float) -> str:
    lit = {each: light.model_copy(update={"on": True}) for each, light in setup.scene.light.items()}
    scene = setup.scene.model_copy(update={"light": lit})
    dial = next(
        each for each in dials(Setup(setup.file, scene, setup.kit), True) if each.light == name
    )
    step = dial.step
    on_click = step * round(below / step) if step else below
    return marking(min(0.0, max(dial.least, on_click)), step)
