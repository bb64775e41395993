"""Thin outlines round what is drawn, and the reduction that smooths them."""

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


def with_outlines(picture: Bytes, seen: Seen, groups: Sequence[int]) -> Bytes:
    """Lines where one body ends before another.

    groups : a number for each mesh; between meshes of one number there is no line, and none
             round those of a number below 0
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
    inked = picture.astype(np.float64)
    inked[edge] += STRENGTH * (INK - inked[edge])
    return inked.astype(np.uint8)


def _neighbours(field: NDArray[Any], axis: int) -> tuple[NDArray[Any], NDArray[Any]]:
    return (field[:-1], field[1:]) if axis == 0 else (field[:, :-1], field[:, 1:])


def _mark(edge: Bools, axis: int, first: Bools, second: Bools) -> None:
    before, after = _neighbours(edge, axis)
    before |= first
    after |= second


def reduced(picture: Bytes, times: int) -> Bytes:
    """A picture (h·times, w·times, 3) reduced by means of squares of pixels."""
    h, w = picture.shape[0] // times, picture.shape[1] // times
    squares = picture.reshape(h, times, w, times, 3).astype(np.float64)
    return np.asarray(squares.mean((1, 3)).round(), np.uint8)
