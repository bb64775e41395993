"""Which places are inside a closed mesh, such as a panel's corner in a sitter's shoulder."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FEW = 4  # places that look through the same triangles; with more they part company


def inside(
    vertices: NDArray[np.floating], triangles: NDArray[np.integer], places: Floats
) -> NDArray[np.bool_]:
    """Whether each of the places (n, 3) [m] is inside a closed mesh.

    vertices  : (k, 3) [m]; seams where several vertices lie in one place do no harm
    triangles : (m, 3) int, all wound alike
    A place is inside where the surface over it goes round it: the winding number, counted along
    the vertical line; lines through edges and corners count once, by the half-open rule.
    """
    near = triangles[_near(vertices, triangles, places)]
    found: NDArray[np.bool_] = _rounds(vertices.astype(np.float64)[near], places) != 0
    return found


def _near(
    vertices: NDArray[np.floating], triangles: NDArray[np.integer], places: Floats
) -> NDArray[np.bool_]:
    """As `_over`, (m,), before the corners of so many triangles are fetched."""
    low, high = places.min(axis=0), places.max(axis=0)
    x, y, z = vertices.T
    sides = [x >= low[0], x <= high[0], y >= low[1], z >= low[2], z <= high[2]]
    bits = np.zeros(len(vertices), np.uint8)  # one for each side on which a vertex lies
    for k, side in enumerate(sides):
        bits |= side.astype(np.uint8) << np.uint8(k)
    a, b, c = bits[triangles].T
    kept: NDArray[np.bool_] = (a | b | c) == (1 << len(sides)) - 1
    return kept


def _rounds(corners: Floats, places: Floats) -> Ints:
    """How often triangles (m, 3, 3) go round each place (n, 3), of what is over it."""
    corners = corners[_over(corners, places.min(axis=0), places.max(axis=0))]
    if len(places) <= FEW:
        return np.array([_round(corners - place) for place in places], np.int64)
    spread = np.ptp(places, axis=0)[[0, 2]]
    axis = 0 if spread[0] > spread[1] else 2
    order = np.argsort(places[:, axis], kind="stable")
    found = np.zeros(len(places), np.int64)
    for half in np.array_split(order, 2):
        found[half] = _rounds(corners, places[half])
    return found


def _over(corners: Floats, low: Floats, high: Floats) -> NDArray[np.bool_]:
    """Triangles (m, 3, 3) that may be over a place of the box from low to high (3,)."""
    kept = np.ones(len(corners), np.bool_)
    for axis, ends in enumerate(zip(low, high, strict=True)):
        a, b, c = (corners[:, k, axis] for k in range(3))
        kept &= np.maximum(np.maximum(a, b), c) >= ends[0]
        if axis != 1:
            kept &= np.minimum(np.minimum(a, b), c) <= ends[1]
    return kept


def _round(corners: Floats) -> int:
    """How often triangles (m, 3, 3) over the origin go round the vertical through it."""
    x, y, z = np.moveaxis(corners, -1, 0)
    next_x, next_z = np.roll(x, -1, axis=1), np.roll(z, -1, axis=1)
    # Of each edge; that of the triangle on its other side is exactly the negative.
    area = x * next_z - z * next_x
    turns = ((z <= 0) & (next_z > 0) & (area > 0)).astype(int)
    turns -= (z > 0) & (next_z <= 0) & (area < 0)
    # Height of the triangle there, weighed by the areas opposite to its corners.
    height = np.sum(np.roll(area, -1, axis=1) * y, axis=1)
    above = height * np.sign(area.sum(axis=1)) > 0
    return int(turns.sum(axis=1)[above].sum())
