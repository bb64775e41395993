"""The shape of a backdrop: an upright sheet, and a paper's smooth bend onto the floor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Bend, Sheet

Floats = NDArray[np.float64]
BEND_STEPS = 64  # chords of the quarter circle: 0.03 mm off the arc at a radius of 0.4 m
TINY = 1e-12  # a ray as good as parallel to a plane


def sheet_mesh(sheet: Sheet) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """A sheet as vertices (n, 3) [m], their normals (n, 3) and triangles (m, 3), front outwards."""
    if sheet.bend is None:
        normals = np.tile(sheet.normal, (4, 1))
        return sheet.corners_m, normals, np.array([[0, 1, 2], [0, 2, 3]])
    forward, upward, turn = _profile(sheet.height_m, sheet.bend)
    top = sheet.centre_m + 0.5 * sheet.height_m * sheet.up
    line = top + np.outer(forward, sheet.normal) + np.outer(upward, sheet.up)
    normals = np.outer(np.cos(turn), sheet.normal) + np.outer(np.sin(turn), sheet.up)
    aside = 0.5 * sheet.width_m * sheet.right
    vertices = np.stack([line - aside, line + aside], 1).reshape(-1, 3)
    first = 2 * np.arange(len(line) - 1)[:, None, None]
    triangles = (first + np.array([[0, 2, 3], [0, 3, 1]])).reshape(-1, 3)
    return vertices, np.repeat(normals, 2, 0), triangles


def _profile(height_m: float, bend: Bend) -> tuple[Floats, Floats, Floats]:
    """Forward and upward offset from the top edge [m] and turn of the normal [rad], top to end."""
    turn = np.linspace(0.0, 0.5 * np.pi, BEND_STEPS + 1)
    forward = bend.radius_m * (1 - np.cos(turn))
    upward = -height_m - bend.radius_m * np.sin(turn)
    ends = [bend.radius_m + bend.floor_m] if bend.floor_m > 0 else []
    count = len(ends)
    return (
        np.concatenate([[0.0], forward, ends]),
        np.concatenate([[0.0], upward, upward[-1:].repeat(count)]),
        np.concatenate([[0.0], turn, turn[-1:].repeat(count)]),
    )


def flat_parts(sheet: Sheet) -> list[Floats]:
    """Corners (4, 3) [m] of each flat part of a sheet: the upright one, then that on the floor."""
    bend = sheet.bend
    if bend is None or bend.floor_m == 0:
        return [sheet.corners_m]
    vertices = sheet_mesh(sheet)[0]
    return [sheet.corners_m, vertices[[-4, -2, -1, -3]]]


def meet(sheet: Sheet, starts: Floats, ways: Floats) -> tuple[Floats, Floats]:
    """How far along each way (n, 3) from its start (n, 3) [m] the sheet is first met.

    returns : (n,) float  multiples of the way, infinite where it is not; (n, 3) normals there
    """
    frame = np.stack([sheet.right, sheet.up, sheet.normal])
    foot = sheet.centre_m - 0.5 * sheet.height_m * sheet.up  # the bend begins here
    at, step = (starts - foot) @ frame.T, ways @ frame.T
    upright = np.tile([0.0, 1.0], (len(at), 1))  # shares of up and normal in the normal
    found = [(_plane(at, step, 2, 0.0), upright)]
    limits: list[tuple[float, float, int]] = [(0.0, sheet.height_m, 1)]
    if sheet.bend is not None:
        radius, floor = sheet.bend.radius_m, sheet.bend.floor_m
        arc, leans = _arc(at, step, radius)
        found += [(arc, leans), (_plane(at, step, 1, -radius), upright[:, ::-1])]
        limits += [(-radius, 0.0, 1), (radius, radius + floor, 2)]
    best, lean = np.full(len(at), np.inf), upright.copy()
    for (share, leaning), (low, high, axis) in zip(found, limits, strict=True):
        with np.errstate(invalid="ignore"):
            place = at + share[:, None] * step
            on = (share > 0) & (np.abs(place[:, 0]) <= 0.5 * sheet.width_m)
            on &= (place[:, axis] >= low) & (place[:, axis] <= high) & (share < best)
        best, lean = np.where(on, share, best), np.where(on[:, None], leaning, lean)
    return best, lean @ frame[1:]


def _plane(at: Floats, step: Floats, axis: int, level: float) -> Floats:
    """Share of the step at which a coordinate reaches a level; infinite if it never does."""
    slope = np.where(np.abs(step[:, axis]) < TINY, np.nan, step[:, axis])
    return np.nan_to_num((level - at[:, axis]) / slope, nan=np.inf)


def _arc(at: Floats, step: Floats, radius: float) -> tuple[Floats, Floats]:
    """Share of the step that reaches the quarter circle, and how its normal leans (n, 2)."""
    start = at[:, 1:] - [0.0, radius]  # from the middle of the circle, up and forwards
    along = step[:, 1:]
    a = np.maximum((along**2).sum(1), TINY)
    b, c = (start * along).sum(1), (start**2).sum(1) - radius**2
    root = np.sqrt(np.maximum(b * b - a * c, 0.0))
    best, lean = np.full(len(at), np.inf), np.tile([0.0, 1.0], (len(at), 1))
    for share in ((-b - root) / a, (-b + root) / a):
        place = start + share[:, None] * along
        on = (b * b >= a * c) & (share > 0) & (share < best) & np.all(place <= 0, axis=1)
        best = np.where(on, share, best)
        lean = np.where(on[:, None], -place / radius, lean)
    return best, lean
