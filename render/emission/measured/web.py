"""Intensities on a grid of two angles, read between its lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
EDGE_DEG = 1e-7  # rounding of angles that went through sines and tangents


def between(x_deg: Floats, y_deg: Floats, table: Floats, x: Floats, y: Floats) -> Floats:
    """Bilinear value of a table (n, m) at angles x, y (broadcast); 0 beyond its edges.

    x_deg : (n,) float  ascending; y_deg : (m,) float  ascending; each at least two
    """
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    i = np.clip(np.searchsorted(x_deg, x, "right") - 1, 0, len(x_deg) - 2)
    j = np.clip(np.searchsorted(y_deg, y, "right") - 1, 0, len(y_deg) - 2)
    u = np.clip((x - x_deg[i]) / (x_deg[i + 1] - x_deg[i]), 0, 1)
    v = np.clip((y - y_deg[j]) / (y_deg[j + 1] - y_deg[j]), 0, 1)
    low = (1 - u) * table[i, j] + u * table[i + 1, j]
    high = (1 - u) * table[i, j + 1] + u * table[i + 1, j + 1]
    inside = (x >= x_deg[0] - EDGE_DEG) & (x <= x_deg[-1] + EDGE_DEG)
    inside &= (y >= y_deg[0] - EDGE_DEG) & (y <= y_deg[-1] + EDGE_DEG)
    found: Floats = np.where(inside, (1 - v) * low + v * high, 0.0)
    return found
