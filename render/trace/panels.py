"""Bounce panels as places to look for light: where they are, how pale, how silver."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import drjit as dr
import mitsuba as mi

from render.layout.placed import Sheet
from render.trace.directions import opaque
from render.trace.stage import LUMINANCE, Stage

PALE = 0.1  # reflectance from which light is worth looking for there; black panels have 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """A rectangle that gives light back; numbers opaque to the compiler."""

    centre: Any
    right: Any
    up: Any
    normal: Any
    half_width: Any
    half_height: Any
    pale: tuple[Any, Any]  # luminous reflectance of front and back
    rough: tuple[Any, Any] | None  # of front and back, 0 for matte; None where neither is silver
    area_m2: Any
    reach: Any  # half the diagonal [m]

    def local(self, vector: Any) -> Any:
        """A direction in the panel's own axes."""
        return mi.Vector3f(*(dr.dot(vector, axis) for axis in (self.right, self.up, self.normal)))

    def at(self, x: Any, y: Any) -> Any:
        """A place on it in the room [m]."""
        return self.centre + x * self.right + y * self.up


@dataclass(frozen=True, slots=True, eq=False)
class Panels:
    """All panels of a set that are worth looking at."""

    panels: tuple[Panel, ...]
    room: Any  # what the room's walls give back to any place [lx·s per lm·s]


def panels_of(stage: Stage) -> Panels | None:
    """The panels of a stage; None if it has no pale one."""
    sheets = [s for s in stage.sheets if s.kind == "panel" and max(_pale(s)) > PALE]
    return Panels(tuple(map(_panel, sheets)), opaque(_room(stage))) if sheets else None


def _pale(sheet: Sheet) -> list[float]:
    """Luminous reflectance of front and back."""
    both = sheet.reflectance, sheet.back_reflectance
    return [sum(s * c for s, c in zip(LUMINANCE, colour, strict=True)) for colour in both]


def _panel(sheet: Sheet) -> Panel:
    axes = sheet.centre_m, sheet.right, sheet.up, sheet.normal
    centre, right, up, normal = (mi.Vector3f(*map(float, axis)) for axis in axes)
    dr.make_opaque(centre, right, up, normal)
    front, back = map(opaque, _pale(sheet))
    silver = sheet.roughness > 0 or sheet.back_roughness > 0
    rough = (opaque(sheet.roughness), opaque(sheet.back_roughness)) if silver else None
    reach = 0.5 * math.hypot(sheet.width_m, sheet.height_m)
    numbers = sheet.width_m / 2, sheet.height_m / 2, sheet.width_m * sheet.height_m, reach
    half_width, half_height, area, reach_m = map(opaque, numbers)
    return Panel(
        centre, right, up, normal, half_width, half_height, (front, back), rough, area, reach_m
    )


def _room(stage: Stage) -> float:
    """Light in a closed room, as of an even sphere with its walls: rho / (1 - rho) / area."""
    walls = [sheet for sheet in stage.sheets if sheet.kind == "wall"]
    area = sum(wall.area_m2 for wall in walls)
    taken = sum(wall.area_m2 * (1 - _pale(wall)[0]) for wall in walls)
    return (area - taken) / taken / area if taken else 0.0
