"""A measured beam that a file gives in part, unfolded to all the planes around the axis."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from render.emission.measured.text import refuse
from render.emission.measured.web import Floats, between

SAME_DEG = 1e-3  # angles of files are written with two or three decimals
STEP_DEG = 0.5  # grid on which the two floodlight conventions are read anew, in gamma
PLANE_STEP_DEG = 1.0  # and around the axis
HALVES = "one plane, or planes 0 to 90, 0 to 180, 90 to 270 or 0 to 360 degrees"


def all_planes(
    file: Path, line: int, planes: list[float], candela: Floats
) -> tuple[Floats, Floats]:
    """Planes (p,) from 0 to 360 degrees and intensities (p, g) of a type C file.

    planes  : (k,) ascending, as the file gives them
    candela : (k, g) [cd]
    Raises KitError where the planes are none of the symmetries of LM-63.
    """
    turns = np.array(planes)
    if len(turns) == 1:
        return np.array([0.0, 360.0]), np.repeat(candela, 2, axis=0)
    first, last = turns[0], turns[-1]
    if _same(first, 90) and _same(last, 270):
        # Mirrored at the plane C90-C270: a turn C looks like 180 - C.
        left = turns >= 180 - SAME_DEG
        turns, candela = _joined(180 - turns[left][::-1], candela[left][::-1], turns, candela)
        right = turns >= 180 - SAME_DEG
        right &= turns <= 270
        return _joined(turns, candela, 540 - turns[right][::-1], candela[right][::-1], seam=360)
    if not _same(first, 0):
        raise refuse(file, line, f"planes from {first:g} to {last:g} degrees", HALVES)
    if _same(last, 90):
        turns, candela = _joined(turns, candela, 180 - turns[::-1], candela[::-1])
        last = 180.0
    if _same(last, 180):
        return _joined(turns, candela, 360 - turns[::-1], candela[::-1], seam=360)
    step = float(np.max(np.diff(turns)))
    if _same(last, 360):
        turns[-1] = 360.0
        return turns, candela
    if last < 180 or 360 - last > step + SAME_DEG:
        raise refuse(file, line, f"planes from {first:g} to {last:g} degrees", HALVES)
    # The circle is open: the plane at 360 degrees is the one at 0.
    return np.append(turns, 360.0), np.concatenate([candela, candela[:1]])
