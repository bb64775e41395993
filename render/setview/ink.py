"""Thin outlines round what is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.setview.raster import Seen

Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]
INK = np.array([58.0, 56.0, 54.0])  # sRGB
STRENGTH = 0.62  # of a line against what it covers


def with_outlines(picture: Bytes, seen: Seen, groups: Sequence[int], finer: int) -> Bytes:
    """Lines where one body ends before another, half a pixel wide.

    picture : (h, w, 3)
    seen    : what shows in (finer h, finer w)
    groups  : a number for each mesh; between meshes of one number there is no line
    """
    number = np.array([*groups, -1])[seen.index]  # index -1 is the empty ground
    edge = np.zeros(number.shape, dtype=np.bool_)
    for axis in (0, 1):
        here, there = _neighbours(number, axis)
        near, far = _neighbours(seen.depth_m, axis)
        apart = here != there
        nearer = np.where(far == 0, True, (near > 0) & (near <= far))
        # The line lies on the nearer body, so that thin things do not grow.
        _mark(edge, axis, apart & nearer & (here >= 0), apart & ~nearer & (there >= 0))
    height, width, _ = picture.shape
    share = STRENGTH * edge.reshape(height, finer, width, finer).mean((1, 3))[..., None]
    return np.asarray((picture + share * (INK - picture)).round(), np.uint8)


def _neighbours(field: NDArray[Any], axis: int) -> tuple[NDArray[Any], NDArray[Any]]:
    return (field[:-1], field[1:]) if axis == 0 else (field[:, :-1], field[:, 1:])


def _mark(edge: Bools, axis: int, first: Bools, second: Bools) -> None:
    before, after = _neighbours(edge, axis)
    before |= first
    after |= second
