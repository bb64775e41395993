"""Directions and frames in the room: azimuths, facing surfaces, turned bodies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

UP = np.array([0.0, 1.0, 0.0])
TOUCHING_M = 1e-3  # nearer than this, two places give no direction


def unit(vector: Floats) -> Floats:
    """The same direction, length one; (..., 3)."""
    length: Floats = np.linalg.norm(vector, axis=-1, keepdims=True)
    return vector / length


def direction(azimuth_deg: float, elevation_deg: float) -> Floats:
    """Unit vector (3,) from a point: azimuth 0 to the camera (+z), negative camera left (-x)."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array([np.sin(a) * np.cos(e), np.sin(e), np.cos(a) * np.cos(e)])


def turn(azimuth_deg: float) -> Floats:
    """(3, 3) rotation that takes +z to `direction(azimuth_deg, 0)`."""
    a = np.radians(azimuth_deg)
    c, s = np.cos(a), np.sin(a)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def facing(normal: Floats, roll_deg: float = 0.0) -> tuple[Floats, Floats]:
    """Axes `right` and `up` of a surface that faces `normal`, with right x up = normal.

    `up` is as upright as the normal allows, then turned about the normal by roll_deg.
    """
    side = np.cross(UP, normal)
    if np.linalg.norm(side) < 1e-6:  # faces straight up or down
        side = np.array([1.0, 0.0, 0.0])
    right = unit(side)
    up = np.cross(normal, right)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    return c * right + s * up, c * up - s * right


def fitted_ball(points: Floats) -> tuple[Floats, float]:
    """Middle (3,) and radius of the sphere through points (n, 3), n >= 4; algebraic least squares.

    |p|² = 2 p·m + (r² - |m|²) is linear in the middle m and the bracket.
    """
    system = np.c_[2 * points, np.ones(len(points))]
    found = np.linalg.lstsq(system, (points**2).sum(1), rcond=None)[0]
    middle: Floats = found[:3]
    return middle, float(np.sqrt(max(0.0, found[3] + middle @ middle)))
