"""What `--free` sets free besides the dials: where a light stands, ISO speed and f-number."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from pydantic.fields import FieldInfo

from render.errors import OutputError
from render.plan.balance.thirds import F_NUMBERS, ISO_SPEEDS, thirds_between
from render.plan.changes.lights import FARTHEST_M, NEAREST_M
from render.scenefile import Setup
from render.studio.light import Light

OPTION = "--free"
PLACES = ("distance_m", "azimuth_deg", "elevation_deg")
CAMERA = {"camera.iso_speed": ISO_SPEEDS, "camera.f_number": F_NUMBERS}
STEPS = {"distance_m": 0.01, "azimuth_deg": 1.0, "elevation_deg": 1.0}  # of tape and protractor
# Farther round or up and it is another pattern of light; common practice, no source.
ROUND_DEG, UP_DEG = 30.0, 20.0
# Of the usual ranges. A light keeps its side of the camera and of the sitter.
SIDES_DEG = (-180.0, -90.0, 0.0, 90.0, 180.0)
FLATTEST_DEG, STEEPEST_DEG = -30.0, 75.0  # from under the chin to overhead; from memory


@dataclass(frozen=True, slots=True)
class Unknown:
    """One key of the scene that may change, between two ends."""

    key: str
    now: float
    low: float
    high: float
    source: str  # where the ends come from, in words

    @property
    def light(self) -> str:
        """The light that stands elsewhere; empty for a setting of the camera."""
        table, *name, _ = self.key.split(".")
        return name[0] if table == "light" else ""

    @property
    def part(self) -> str:
        """The last word of the key."""
        return self.key.rsplit(".", 1)[-1]


def unknowns(setup: Setup, asked: Sequence[str]) -> tuple[Unknown, ...]:
    """What is free, from texts such as "light.key.distance_m" or "camera.iso_speed=100..400".

    Raises OutputError for a key that cannot be free and for a range that is none.
    """
    found: dict[str, Unknown] = {}
    for text in asked:
        key, equals, ends = (part.strip() for part in text.partition("="))
        _check_known(setup, key)
        if key in found:
            raise OutputError(f"{OPTION} {key}: found twice (accepted: once)")
        now = _now(setup, key)
        low, high = _given(setup, key, ends) if equals else _usual(key, now)
        source = "as asked" if equals else _reason(key)
        found[key] = Unknown(key, now, low, high, source)
    return tuple(found.values())


def _check_known(setup: Setup, key: str) -> None:
    """A key of the scene that can be free, of a light that can be moved."""
    known = [f"light.{name}.{part}" for name in setup.scene.light for part in PLACES]
    if key not in (*known, *CAMERA):
        names = "|".join(setup.scene.light)
        raise OutputError(
            f"{OPTION} {key}: cannot be solved for (accepted: light.{names}.{'|'.join(PLACES)}, "
            f"{', '.join(CAMERA)}; powers always are)"
        )
    if key in CAMERA:
        if setup.scene.camera is None:
            raise OutputError(f"{OPTION} {key}: the scene has no camera (accepted: with [camera])")
        return
    name = key.split(".")[1]
    light = setup.scene.light[name]
    if light.fixed or not light.on:
        why, wanted = ("is fixed", "without fixed") if light.fixed else ("is off", "that is on")
        raise OutputError(f"{OPTION} {key}: the {name} light {why} (accepted: a light {wanted})")
    if light.position_m is not None:
        raise OutputError(
            f"{OPTION} {key}: the {name} light stands by position_m (accepted: a light placed by "
            "azimuth_deg, elevation_deg and distance_m)"
        )


def _now(setup: Setup, key: str) -> float:
    table = setup.scene.camera if key in CAMERA else setup.scene.light[key.split(".")[1]]
    if key == "camera.iso_speed" and setup.scene.meter.iso_speed is not None:
        return setup.scene.meter.iso_speed
    now = getattr(table, key.rsplit(".", 1)[-1])
    if now is None:
        raise OutputError(f"{OPTION} {key}: not in the scene (accepted: a key that it has)")
    return float(now)


def _given(setup: Setup, key: str, text: str) -> tuple[float, float]:
    """The ends of a range as it is written, "0.8..1.5"."""
    number = r"\s*([-+]?\d+(?:\.\d+)?)\s*"
    match = re.fullmatch(rf"{number}\.\.{number}", text)
    if match is None:
        raise OutputError(f'{OPTION} {key}: found "{text}" (accepted: a range such as 0.8..1.5)')
    low, high = float(match[1]), float(match[2])
    if low > high:
        raise OutputError(
            f"{OPTION} {key}: {low:g} is above {high:g} (accepted: the lower end first)"
        )
    if key in CAMERA:
        if not thirds_between(CAMERA[key], low, high):
            raise OutputError(
                f"{OPTION} {key}: no third stop from {low:g} to {high:g} (accepted: a range that "
                f"holds one of {', '.join(f'{each:g}' for each in CAMERA[key])})"
            )
        return low, high
    least, most = _ends(Light.model_fields[key.rsplit(".", 1)[-1]])
    if low < least or high > most:
        raise OutputError(
            f"{OPTION} {key}: found {low:g}..{high:g} (accepted: within {least:g}..{most:g})"
        )
    return low, high


def _ends(field: FieldInfo) -> tuple[float, float]:
    """Least and greatest value that a scene file takes."""
    least = next(each.ge for each in field.metadata if hasattr(each, "ge"))
    most = next(each.le for each in field.metadata if hasattr(each, "le"))
    return float(least), float(most)


def _usual(key: str, now: float) -> tuple[float, float]:
    """The ends of a range that nobody gave; what is there now always lies within."""
    part = key.rsplit(".", 1)[-1]
    if key in CAMERA:
        low, high = CAMERA[key][0], CAMERA[key][-1]
    elif part == "distance_m":
        low, high = NEAREST_M, FARTHEST_M
    elif part == "azimuth_deg":
        side = next(k for k in range(4) if now <= SIDES_DEG[k + 1])
        low = max(SIDES_DEG[side], now - ROUND_DEG)
        high = min(SIDES_DEG[side + 1], now + ROUND_DEG)
    else:
        low, high = max(FLATTEST_DEG, now - UP_DEG), min(STEEPEST_DEG, now + UP_DEG)
    return min(low, now), max(high, now)


def _reason(key: str) -> str:
    part = key.rsplit(".", 1)[-1]
    words = {
        "distance_m": "usual in a small room",
        "azimuth_deg": f"{ROUND_DEG:g} degrees either way, on its side",
        "elevation_deg": f"{UP_DEG:g} degrees up or down",
        "iso_speed": "usual cameras",
        "f_number": "usual portrait lenses",
    }
    return words[part]


def settable(unknown: Unknown, value: float) -> float:
    """The nearest place that tape and protractor set, within the ends."""
    step = STEPS[unknown.part]
    low = math.ceil(unknown.low / step - 1e-9)
    high = math.floor(unknown.high / step + 1e-9)
    if low > high:
        return unknown.low
    return round(step * min(max(round(value / step), low), high), 4)
