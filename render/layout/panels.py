"""Panels on stands: reflectors, flags and V-flats, placed by hand, round a point or in a light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.errors import SceneError
from render.layout.geometry import TOUCHING_M, direction, facing, unit
from render.layout.people import Anchor, named
from render.layout.placed import Sheet, View
from render.scenefile import Setup
from render.studio.room import Panel

Floats = NDArray[np.float64]

# Luminous reflectance by kind: white 0.60 to 0.70, silver 0.80 to 0.90, black 0.04 to 0.06.
# Typical; from memory and one lighting glossary.
USUAL_REFLECTANCE = {"white": 0.65, "silver": 0.85, "black": 0.05}
# Facet width (Beckmann's alpha) of silver cloth: half its brightness 23 degrees off the mirror's
# direction. From memory of how such cloth shines; no published measurement found.
SILVER_ROUGHNESS = 0.25
LEVEL = np.array([1.0, 0.0, 1.0])  # keeps the level part of a direction


@dataclass(frozen=True, slots=True)
class Around:
    """What is placed already when the panels are."""

    anchors: dict[str, Anchor]
    fronts: Sequence[Front]
    lens: View | None
    box: Floats | None = None  # (2, 3) corners of the room [m]


def panel_sheets(setup: Setup, name: str, around: Around) -> list[Sheet]:
    """A panel as one sheet, a V-flat as its two leaves; raises SceneError."""
    panel = setup.scene.panel[name]
    position, towards = _position(setup, name, around)
    target = _target(setup, name, around, position, towards)
    if np.linalg.norm(target - position) < TOUCHING_M:
        raise SceneError(
            setup.file, f"panel.{name}.facing", "the panel stands there", "a place elsewhere"
        )
    if panel.opening_deg is not None:
        target = target * LEVEL + position * (1 - LEVEL)  # a V-flat stands upright
        if np.linalg.norm(target - position) < TOUCHING_M:
            wanted = "a place to one side"
            raise SceneError(setup.file, f"panel.{name}.facing", "straight above or below", wanted)
    right, up = facing(unit(target - position), panel.roll_deg)
    faces = _faces(panel)
    width, height = panel.size_cm[0] / 100, panel.size_cm[1] / 100
    if panel.opening_deg is None:
        return [Sheet(name, "panel", position, right, up, width, height, *faces)]
    half = np.radians(panel.opening_deg) / 2
    ahead = np.cross(right, up)
    leaves = []
    for side in (-1.0, 1.0):
        outwards = side * np.sin(half) * right + np.cos(half) * ahead
        centre, across = position + 0.5 * width * outwards, side * outwards
        leaves.append(Sheet(name, "panel", centre, across, up, width, height, *faces))
    return leaves


def _target(setup: Setup, name: str, around: Around, position: Floats, otherwise: Floats) -> Floats:
    """A place that the panel's front faces."""
    panel, key = setup.scene.panel[name], f"panel.{name}"
    if panel.mirrors is not None:
        if panel.facing is not None:
            raise SceneError(setup.file, key, "faces two ways", "either facing or mirrors")
        light = _light(setup, f"{key}.mirrors", panel.mirrors, around)
        ways = [light - position, otherwise - position]
        if min(np.linalg.norm(way) for way in ways) < TOUCHING_M:
            return position
        # Half way between where light comes from and where it is wanted.
        return position + unit(ways[0]) + unit(ways[1])
    if isinstance(panel.facing, str):
        return _point(setup, f"{key}.facing", panel.facing, around)
    return otherwise if panel.facing is None else np.array(panel.facing)


def _light(setup: Setup, key: str, name: str, around: Around) -> Floats:
    """The middle of a light's front."""
    lights = {front.name: front.centre_m for front in around.fronts}
    if name not in lights:
        known = f"one of {', '.join(lights)}"
        raise SceneError(setup.file, key, f'no light "{name}"', known)
    return lights[name]


def _faces(
    panel: Panel,
) -> tuple[tuple[float, float, float], tuple[float, float, float], float, float]:
    """Reflectances of front and back, then their roughness (0 for matte)."""
    other = panel.back or panel.kind
    front = USUAL_REFLECTANCE[panel.kind] if panel.reflectance is None else panel.reflectance
    same = front if panel.back is None else USUAL_REFLECTANCE[other]
    back = same if panel.back_reflectance is None else panel.back_reflectance
    rough = [SILVER_ROUGHNESS if kind == "silver" else 0.0 for kind in (panel.kind, other)]
    return (front, front, front), (back, back, back), rough[0], rough[1]


def _position(setup: Setup, name: str, around: Around) -> tuple[Floats, Floats]:
    """Where the panel stands, and what it faces unless told otherwise."""
    panel, key = setup.scene.panel[name], f"panel.{name}"
    aside = (panel.azimuth_deg, panel.distance_m) != (None, None) or panel.elevation_deg != 0
    ways = [panel.position_m is not None, aside, panel.guards is not None]
    if sum(ways) != 1:
        raise SceneError(
            setup.file,
            key,
            "placed more than once" if any(ways) else "has no place",
            "one of position_m, azimuth_deg with distance_m, or guards",
        )
    if panel.guards is not None:
        return _guarding(setup, name, around)
    base = named(setup.file, f"{key}.around", panel.around, around.anchors).position_m
    if panel.position_m is not None:
        return np.array(panel.position_m), base
    for part in ("azimuth_deg", "distance_m"):
        if getattr(panel, part) is None:
            wanted = "azimuth_deg with distance_m"
            raise SceneError(setup.file, f"{key}.{part}", "missing", wanted)
    away = direction(panel.azimuth_deg or 0.0, panel.elevation_deg)
    return base + (panel.distance_m or 0.0) * away, base


def _guarding(setup: Setup, name: str, around: Around) -> tuple[Floats, Floats]:
    """A place on the line from a light to the point it is kept from, and the light."""
    guards, key = setup.scene.panel[name].guards, f"panel.{name}.guards"
    assert guards is not None
    light = _light(setup, f"{key}.light", guards.light, around)
    if isinstance(guards.point, str):
        kept = _point(setup, f"{key}.point", guards.point, around)
    else:
        kept = np.array(guards.point)
    length = float(np.linalg.norm(kept - light))
    if guards.distance_m >= length:
        raise SceneError(
            setup.file,
            f"{key}.distance_m",
            f"found {guards.distance_m:g}, beyond the point",
            f"below {length:.2f}",
        )
    return light + guards.distance_m * unit(kept - light), light


def _point(setup: Setup, key: str, name: str, around: Around) -> Floats:
    """A landmark, a point, a light's front or the camera."""
    if name == "camera" and around.lens is not None:
        return around.lens.position_m
    for front in around.fronts:
        if front.name == name and name not in around.anchors:
            return front.centre_m
    return named(setup.file, key, name, around.anchors).position_m
