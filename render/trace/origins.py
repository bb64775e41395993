"""Which surface light on a receptor came from last: sums surface by surface."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

from render.trace.surfaces import Surfaces

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


def numbers(si: Any) -> Any:
    """The tracer's own number of the shape that each lane is on; 0 is none."""
    return dr.reinterpret_array(mi.UInt32, si.shape)


def surface_met(scene: Any, met: Any, surfaces: Surfaces) -> Whole:
    """Index of a surface for every lane from the numbers of shapes, (lanes,)."""
    found = np.array(met, np.int64)
    rest = len(surfaces.names) - 1
    table = np.full(found.max(initial=0) + 1, rest, np.int64)
    for shape in scene.shapes():
        number = int(np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(shape)))[0])
        if number < len(table):
            table[number] = surfaces.shapes.get(shape.id(), rest)
    return table[found]


def sums_by_surface(
    values: list[Any], surface: Whole, readings: int, surfaces: Surfaces
) -> list[Floats]:
    """Sums, then sums of squares, by reading, light and surface: (readings, lights, surfaces).

    values  : one array (lanes,) per light, lanes in order of readings, as many for each
    surface : (lanes,) int  index of each lane's surface
    """
    count = len(surfaces.names)
    reading = np.arange(len(surface)) // (len(surface) // readings)
    place = reading * count + surface
    lanes = [np.array(value, np.float64) for value in values]
    return [
        np.stack(
            [np.bincount(place, each, readings * count).reshape(readings, count) for each in part],
            axis=1,
        )
        for part in (lanes, [np.square(lane) for lane in lanes])
    ]
