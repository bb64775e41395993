"""How much of a front's light goes where: beam and grid, for many rays at once.

The words and formulas are those of `render.emission.beams`. Every number is opaque to the compiler:
another beam of the same kind needs no new kernel.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.emission import Front, Honeycomb, Lobe, Tabulated
from render.emission.beams import GRAZING

Factor = Callable[[Any, Any], Any]  # of a direction's slopes x/z and y/z in local axes
SQRT_3 = float(np.sqrt(3))


def opaque(value: float) -> Any:
    """A number that the compiler does not look into."""
    return dr.opaque(mi.Float, float(value))


def direction_factors(front: Front) -> list[Factor]:
    """What beam and grid of a front make of a direction ahead; their product counts."""
    found = [] if isinstance(front.cells, Honeycomb) else [_cells(front)]
    if isinstance(front.cells, Honeycomb):
        found.append(_honeycomb(front.cells))
    if isinstance(front.beam, Lobe):
        found.append(_lobe(front.beam))
    if isinstance(front.beam, Tabulated):
        found.append(_tabulated(front.beam))
    return found


def numbers_in(factor: Factor) -> list[Any]:
    """What a factor reckons with. The tracer looks for numbers that may change among an object's
    own attributes only, not in its functions."""
    held = [cell.cell_contents for cell in getattr(factor, "__closure__", None) or ()]
    return [vars(each) if isinstance(each, _Knots) else each for each in held]


def _cells(front: Front) -> Factor:
    """Rectangular cells; a front without a grid has cells that never close."""
    x, y = front.cells.slopes if front.cells else (np.inf, np.inf)
    close_x, close_y = opaque(1 / x), opaque(1 / y)

    def factor(slope_x: Any, slope_y: Any) -> Any:
        open_x, open_y = 1 - dr.abs(slope_x) * close_x, 1 - dr.abs(slope_y) * close_y
        return dr.maximum(open_x, 0) * dr.maximum(open_y, 0)

    return factor


def _honeycomb(cells: Honeycomb) -> Factor:
    """Overlap of a hexagon's two openings, displaced against each other (see `cells_share`).

    Of the three shares of the displacement across flats the largest is the sum of the others.
    """
    half = opaque(0.5 * cells.width_m / cells.depth_m)

    def factor(slope_x: Any, slope_y: Any) -> Any:
        level, up = dr.abs(slope_x), dr.abs(SQRT_3 * slope_y)
        most = dr.maximum(level, 0.5 * (level + up))
        least = dr.minimum(level, 0.5 * dr.abs(level - up))
        h1, h2, h3 = (dr.maximum(half - 0.5 * p, 0) for p in (most, most - least, least))
        overlap = dr.select(most - least > half, h1 * h2, h2 * h3 - 0.25 * half * half)
        return dr.maximum(overlap, 0) * 4 / (3 * half * half)

    return factor


def _lobe(beam: Lobe) -> Factor:
    width = opaque(1 / beam.slope**2)
    return lambda x, y: dr.exp2(-(x * x + y * y) * width)


def _tabulated(beam: Tabulated) -> Factor:
    """The table's intensity, linear between its angles, over the cosine."""
    gammas, planes = _Knots(np.radians(beam.gammas_deg)), _Knots(np.radians(beam.planes_deg))
    columns = opaque_count(len(beam.gammas_deg))
    table = mi.Float(np.ascontiguousarray(beam.intensity, np.float32).ravel())
    last = opaque(np.radians(beam.gammas_deg[-1]))

    def factor(slope_x: Any, slope_y: Any) -> Any:
        square = slope_x * slope_x + slope_y * slope_y
        gamma, turn = dr.atan(dr.sqrt(square)), dr.atan2(slope_y, slope_x)
        i, u = planes.find(dr.select(turn < 0, turn + dr.two_pi, turn))
        j, v = gammas.find(gamma)
        place = i * columns + j
        corners = [dr.gather(mi.Float, table, place + k) for k in (0, 1, columns, columns + 1)]
        low = dr.lerp(corners[0], corners[2], u)
        high = dr.lerp(corners[1], corners[3], u)
        cosine = dr.maximum(dr.rsqrt(1 + square), GRAZING)
        return dr.select(gamma <= last, dr.lerp(low, high, v) / cosine, 0)

    return factor


def opaque_count(value: int) -> Any:
    """A whole number that the compiler does not look into."""
    return dr.opaque(mi.UInt32, value)


def opaque_pointer(emitter: Any) -> Any:
    """An emitter's pointer; its number goes up with every light that is built."""
    pointer = mi.EmitterPtr(emitter)
    dr.make_opaque(pointer)
    return pointer


class _Knots:
    """Ascending angles of a table, and where others lie among them."""

    def __init__(self, angles: Any) -> None:
        self.angles = mi.Float(np.asarray(angles, np.float32))
        self.last = opaque_count(len(angles) - 2)
        self.steps = max(1, int(np.ceil(np.log2(len(angles)))))

    def find(self, angle: Any) -> tuple[Any, Any]:
        """Which interval an angle lies in, and how far along (0 ... 1)."""
        low, high = mi.UInt32(0), self.last
        for _ in range(self.steps):
            middle = (low + high + 1) // 2
            beyond = dr.gather(mi.Float, self.angles, middle) <= angle
            low = dr.select(beyond, middle, low)
            high = dr.select(beyond, high, middle - 1)
        start = dr.gather(mi.Float, self.angles, low)
        end = dr.gather(mi.Float, self.angles, low + 1)
        return low, dr.clip((angle - start) / (end - start), 0, 1)
