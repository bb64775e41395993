"""The hull of neck, shoulders and clothes, on which hair comes to lie."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter, label

from render.sitter.arrays import Array, unit

Layer = tuple[Array, Array]  # points and unit normals (k, 3) [dm]
_CELL = 0.04  # [dm]
_BALL = 0.14  # [dm] gaps that a ball of this radius does not enter are closed: that of a collar
_WIDE, _ABOVE = 2.4, 0.25  # [dm] of the grid to either side of the eyes and above cloth
_AHEAD, _BEHIND, _TOP, _BOTTOM = 1.4, 2.9, 0.75, 3.15  # [dm] of the grid, from the eyes


def hull(skin: Layer, cloth: Layer, eye: Array) -> Layer:
    """Skin above the collar, and below it what a small ball rolling over skin and cloth touches.

    eye : (3,) midpoint of the eyes
    """
    if len(cloth[0]) == 0:
        return skin
    top = min(float(cloth[0][:, 1].max()) + _ABOVE, float(eye[1]) - _TOP)
    low = np.array([eye[0] - _WIDE, eye[1] - _BOTTOM, eye[2] - _BEHIND])
    high = np.array([eye[0] + _WIDE, top, eye[2] + _AHEAD])
    cells = np.ceil((high - low) / _CELL).astype(int)
    full = np.zeros(cells, bool)
    for points in (skin[0], cloth[0]):
        at = np.floor((points - low) / _CELL).astype(int)
        at = at[((at >= 0) & (at < cells)).all(1)]
        full[at[:, 0], at[:, 1], at[:, 2]] = True
    parts, _ = label(distance_transform_edt(~full, sampling=_CELL) > _BALL)
    free = parts == parts[0, -1, -1]
    depth = gaussian_filter(distance_transform_edt(~free, sampling=_CELL), 1.0) - _BALL
    slope = np.stack([*np.gradient(depth, _CELL)], -1)
    found = np.argwhere(np.abs(depth) < 0.6 * _CELL)
    i, j, k = found.T
    normals = -unit(slope[i, j, k])
    points = low + (found + 0.5) * _CELL + normals * depth[i, j, k][:, None]
    above = skin[0][:, 1] > top - 0.5 * _CELL
    return np.concatenate([skin[0][above], points]), np.concatenate([skin[1][above], normals])
