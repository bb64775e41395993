"""Each light as a luminous front in the room, with the energy that leaves it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.emission.output import Output, stated
from render.errors import SceneError
from render.layout.calibration import beyond_dial, output_of
from render.layout.geometry import TOUCHING_M, direction, unit
from render.layout.modifiers import Fitted, as_front, fitted
from render.layout.people import Anchor, named
from render.layout.tints import behind, light_tint
from render.scenefile import Setup
from render.studio.kit import Modifier
from render.studio.light import ROLES, Light

Floats = NDArray[np.float64]
T = TypeVar("T")
RESERVED_NAMES = ("all", "camera")  # of all lights together, and of where a point may face
PLAIN = Modifier(kind="plain", size_cm=(1, 1), share=1, edge_falloff_stops=0, shell_cm=10)


def role(name: str, light: Light) -> str:
    """What a light is for: its role, or its name where that begins with one."""
    if light.role is not None:
        return light.role
    return next((each for each in ROLES if name.startswith(each)), "")


def key_index(lights: dict[str, Light]) -> int:
    """The light that ratios refer to: the first key that is on, else the first light that is."""
    lit = [i for i, light in enumerate(lights.values()) if light.on]
    keys = [i for i, (name, light) in enumerate(lights.items()) if role(name, light) == "key"]
    return ([i for i in keys if i in lit] or lit or [0])[0]


def place_light(setup: Setup, name: str, anchors: dict[str, Anchor]) -> tuple[Front, Output]:
    """The placed front of a light and its output at full power; raises SceneError, KitError."""
    light = setup.scene.light[name]
    if name in RESERVED_NAMES:
        raise SceneError(setup.file, f"light.{name}", "the name has a meaning", "another name")
    position, base = _position(setup.file, name, light, anchors)
    target = _target(setup.file, f"light.{name}.aim", light.aim, anchors, base)
    if np.linalg.norm(target - position) < TOUCHING_M:
        raise SceneError(
            setup.file, f"light.{name}.aim", "the light stands on its aim", "a point elsewhere"
        )
    return _lit(setup, name, light, position, unit(target - position))


def light_alone(setup: Setup, light: Light) -> tuple[Front, Output]:
    """A light by itself: the middle of its front at the origin, shining along +z.

    Raises SceneError, KitError.
    """
    return _lit(setup, "alone", light, np.zeros(3), np.array([0.0, 0.0, 1.0]))


def _lit(
    setup: Setup, name: str, light: Light, position: Floats, normal: Floats
) -> tuple[Front, Output]:
    modifier = _modifier(setup, name, light)
    worn = fitted(setup, f"light.{name}", light, modifier)
    front = as_front(name, worn, position, normal, light.roll_deg)
    output = _output(setup, name, light, modifier, worn)
    power = light.power if light.on else 0.0
    tinted = light_tint(setup, name, light)
    output = replace(output, calibration=output.calibration + worn.note + behind(light, tinted))
    energy = output.luminous_energy_lm_s * power * tinted.transmission
    return replace(front, luminous_energy_lm_s=energy, colour=tinted.colour), output


def _position(
    file: Path, name: str, light: Light, anchors: dict[str, Anchor]
) -> tuple[Floats, Floats]:
    key = f"light.{name}"
    base = named(file, f"{key}.around", light.around, anchors).position_m
    if light.position_m is not None:
        if (light.azimuth_deg, light.elevation_deg, light.distance_m) != (None, 0, None):
            raise SceneError(
                file, key, "placed twice", "either position_m, or azimuth_deg with distance_m"
            )
        return np.array(light.position_m), base
    if light.azimuth_deg is None or light.distance_m is None:
        missing = "azimuth_deg" if light.azimuth_deg is None else "distance_m"
        raise SceneError(
            file, f"{key}.{missing}", "missing", "azimuth_deg with distance_m, or position_m"
        )
    return base + light.distance_m * direction(light.azimuth_deg, light.elevation_deg), base


def _target(
    file: Path,
    key: str,
    aim: str | tuple[float, float, float] | None,
    anchors: dict[str, Anchor],
    otherwise: Floats,
) -> Floats:
    if aim is None:
        return otherwise
    if isinstance(aim, str):
        return named(file, key, aim, anchors).position_m
    return np.array(aim)


def _modifier(setup: Setup, name: str, light: Light) -> Modifier:
    key = f"light.{name}"
    if light.modifier is None:
        if light.size_cm is None:
            raise SceneError(
                setup.file, key, "no front", "modifier with a name of the kit, or size_cm"
            )
        sides = {"size_cm": light.size_cm}
        return PLAIN.model_copy(update=sides)
    if light.size_cm is not None:
        raise SceneError(
            setup.file, f"{key}.size_cm", "two fronts", "either modifier or size_cm, not both"
        )
    return listed(setup, f"{key}.modifier", light.modifier, setup.kit.modifier)


def listed(setup: Setup, key: str, name: str, entries: dict[str, T]) -> T:
    """The entry of the kit with this name; raises SceneError where there is none."""
    if name not in entries:
        raise SceneError(
            setup.file, key, f'"{name}" is not in the kit', f"one of {', '.join(sorted(entries))}"
        )
    return entries[name]


def _output(setup: Setup, name: str, light: Light, modifier: Modifier, worn: Fitted) -> Output:
    key = f"light.{name}"
    if light.luminous_energy_lm_s is not None:
        if light.flash is not None:
            raise SceneError(
                setup.file, key, "two sources of light", "either flash or luminous_energy_lm_s"
            )
        return stated(light.luminous_energy_lm_s)
    if light.flash is None:
        raise SceneError(
            setup.file,
            key,
            "no source of light",
            "flash with a name of the kit, or luminous_energy_lm_s",
        )
    flash = listed(setup, f"{key}.flash", light.flash, setup.kit.flash)
    problem = beyond_dial(light.flash, flash, light.power)
    if problem is not None:
        raise SceneError(setup.file, f"{key}.power", *problem)
    return output_of(setup, light, modifier, worn)
