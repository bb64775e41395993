"""All dust of a set on a grid: how much of the light it stops and scatters per metre of way."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Cloud

Floats = NDArray[np.float64]

CELLS = 192  # along the longest side of the box round all dust
LEAST_CELLS = 1.5  # radius of a puff on the grid
MOST_CELLS = 16.0  # diameter of one; more would only be slow


def density_grid(clouds: tuple[Cloud, ...]) -> tuple[NDArray[np.float32], Floats, Floats]:
    """What dust hides per metre of way, on a grid.

    clouds  : of dust
    returns : (d, h, w, 4) what is hidden and what is scattered in red, green and blue [1/m]; the
              low and the high corner (3,) [m] of the box that it fills
    """
    ends = [c.centres_m + s * 0.5 * c.sizes_m[:, None] for c in clouds for s in (-1, 1)]
    places = np.concatenate(ends)
    low, high = places.min(0), places.max(0)
    widest = max(float(c.sizes_m.max()) for c in clouds)
    cell = max(float((high - low).max()) / CELLS, widest / MOST_CELLS)
    low, high = low - 2 * LEAST_CELLS * cell, high + 2 * LEAST_CELLS * cell
    counts = np.ceil((high - low) / cell).astype(int)
    grid = np.zeros((*counts, 4), np.float32)
    for cloud in clouds:
        scattered = np.array([1.0, *cloud.reflectance])
        if cloud.hides_m2 is None:
            continue
        for centre, size, area in zip(cloud.centres_m, cloud.sizes_m, cloud.hides_m2, strict=True):
            part, share = _ball((centre - low) / cell, max(0.5 * size / cell, LEAST_CELLS), counts)
            grid[part] += (area / cell**3 * share)[..., None] * scattered
    return np.ascontiguousarray(grid.transpose(2, 1, 0, 3)), low, low + counts * cell


def _ball(centre: Floats, radius: float, counts: Any) -> tuple[tuple[slice, ...], Floats]:
    """The cells round a soft ball and its share in each of them; all lengths in cells."""
    first = np.maximum(np.floor(centre - radius).astype(int), 0)
    last = np.minimum(np.ceil(centre + radius).astype(int), counts)
    off = [(np.arange(a, b) + 0.5 - c) ** 2 for a, b, c in zip(first, last, centre, strict=True)]
    square = (off[0][:, None, None] + off[1][:, None] + off[2]) / radius**2
    share = np.maximum(1 - square, 0) ** 2
    return tuple(slice(a, b) for a, b in zip(first, last, strict=True)), share / share.sum()
