"""Outlines of lights, sitter and camera as seen from above and from the side, in metres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from render.layout import Layout, Sheet, View

Floats = NDArray[np.float64]

PLAN, SIDE = (2, 0), (2, 1)  # room axes that run right and up on the paper: z with x, z with y
DARK = 0.2  # a panel that gives back less is hatched
THIN_M = 1e-4  # so much is added to what is seen edge on, so that it has an outline
BODY_M, LENS_M = (0.14, 0.09), (0.10, 0.07)  # camera and lens, length and width; from memory


def dark(sheet: Sheet) -> bool:
    """Whether a panel is drawn black."""
    return max(sheet.reflectance) < DARK


def outline(points: Floats, axes: tuple[int, int]) -> Floats:
    """Convex outline (n, 2) [m] of room points (k, 3), seen along the axis left out."""
    flat = np.asarray(points, float)[:, list(axes)].round(5)
    try:
        return np.asarray(flat[ConvexHull(flat).vertices], float)
    except QhullError:  # edge on
        low = flat[np.lexsort(flat.T[::-1])]
        ends = low[[0, -1]]
        return np.concatenate([ends, ends[::-1] + THIN_M])


def sitter(layout: Layout, axes: tuple[int, int]) -> list[Floats]:
    """Outlines of shoulders and head, the upper one last; none without a sitter."""
    body = layout.body
    if body is None:
        return []
    parts = []
    clothes = [s.vertices for s in body.surfaces if s.name == "top"]
    parts += [outline(np.concatenate(clothes), axes)] if clothes else []
    skin = np.concatenate([s.vertices for s in body.surfaces if s.name == "skin"])
    chin = body.landmarks["chin"].position_m[1] if "chin" in body.landmarks else -np.inf
    head = skin[skin[:, 1] >= chin]
    return [*parts, outline(head, axes)] if len(head) > 2 else parts


def camera(view: View, axes: tuple[int, int]) -> list[Floats]:
    """Outlines of lens and body; the lens ends at the entrance pupil."""
    side = view.right if axes == PLAN else view.up
    made = []
    start = 0.0
    for length, width in (LENS_M, BODY_M):
        ends = [view.position_m + along * view.back for along in (start, start + length)]
        half = 0.5 * width * side
        ring = np.stack([ends[0] - half, ends[0] + half, ends[1] + half, ends[1] - half])
        made.append(ring[:, list(axes)])
        start += length
    return made


def view_edges(view: View, axes: tuple[int, int], until_z_m: float) -> list[Floats]:
    """The two edges of the frame as lines (2, 2) [m], from the lens to a depth of the room."""
    across = (view.right, view.frame_width_m) if axes == PLAN else (view.up, view.frame_height_m)
    side, size = across
    lines = []
    for sign in (-1, 1):
        ray = -view.back + sign * 0.5 * size / view.image_m * side
        far = (until_z_m - view.position_m[2]) / ray[2] if ray[2] < 0 else 1.0
        ends = np.stack([view.position_m, view.position_m + far * ray])
        lines.append(ends[:, list(axes)])
    return lines
