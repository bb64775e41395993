"""The pyramid that the lens sees: what of a solid is in it, and how far outside the rest stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import View

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mesh = tuple[Floats, Ints]  # vertices (n, 3) [m], triangles (m, 3)

SIDES = ("camera left", "camera right", "top", "bottom")  # of the frame
CLOSE_M, MOST_QUARTERINGS = 1e-3, 12  # of a clearance; 2 m are cut down to half a millimetre
AHEAD_M = 0.02  # nothing stands nearer to the lens than its own barrel


@dataclass(frozen=True, slots=True)
class Frustum:
    """The planes of the frame: a point is in it where all heights above them are positive."""

    apex_m: Floats  # (3,)
    inward: Floats  # (5, 3) unit, those of SIDES, then the one before the lens

    @staticmethod
    def of(lens: View) -> Frustum:
        """The pyramid of a lens and its crop."""
        half_w = 0.5 * lens.frame_width_m / lens.image_m
        half_h = 0.5 * lens.frame_height_m / lens.image_m
        ahead = -lens.back
        sides = [
            lens.right + half_w * ahead,
            -lens.right + half_w * ahead,
            -lens.up + half_h * ahead,
            lens.up + half_h * ahead,
        ]
        planes = np.array([*sides, ahead])
        return Frustum(lens.position_m, planes / np.linalg.norm(planes, axis=1, keepdims=True))

    def heights(self, points: Floats) -> Floats:
        """Distance (..., 5) [m] of points (..., 3) inside each plane; negative outside."""
        found: Floats = (points - self.apex_m) @ self.inward.T
        found[..., 4] -= AHEAD_M
        return found


def clipped(frustum: Frustum, mesh: Mesh) -> list[Floats]:
    """The parts of a mesh inside the pyramid: polygons (k, 3) [m].

    Exact: every triangle is cut along one plane after the other (Sutherland and Hodgman,
    Communications of the ACM 17(1), 1974).
    """
    vertices, triangles = mesh
    heights = frustum.heights(vertices)
    outside = np.any(np.all(heights[triangles] <= 0, axis=1), axis=1)
    whole = np.all(heights[triangles] > 0, axis=(1, 2))
    found = [vertices[corners] for corners in triangles[whole]]
    for corners in triangles[~outside & ~whole]:
        polygon = vertices[corners]
        for side in range(len(frustum.inward)):
            polygon = _cut(polygon, frustum.heights(polygon)[:, side])
            if len(polygon) < 3:
                break
        else:
            found.append(polygon)
    return found


def _cut(polygon: Floats, height: Floats) -> Floats:
    """The part of a polygon (k, 3) whose height (k,) above a plane is positive."""
    kept = []
    for i in range(len(polygon)):
        a, b = height[i - 1], height[i]
        if (a > 0) != (b > 0):
            kept.append(polygon[i - 1] + a / (a - b) * (polygon[i] - polygon[i - 1]))
        if b > 0:
            kept.append(polygon[i])
    return np.array(kept).reshape(-1, 3)


@dataclass(frozen=True, slots=True)
class Clearance:
    """How far a solid outside the frame is from it."""

    distance_m: float  # at right angles to the frame's edge; 0 where it is inside
    side: str  # of the frame, or "behind the lens"


def clearance(frustum: Frustum, mesh: Mesh) -> Clearance:
    """Distance [m] of a mesh outside the pyramid from it, to CLOSE_M.

    A place is as far from the pyramid as from the plane that has it most outside. Triangles that
    straddle planes are quartered until the nearest place is known.
    """
    corners = mesh[0][mesh[1]]  # (m, 3, 3)
    nearest, side = np.inf, 0
    for _ in range(MOST_QUARTERINGS):
        beyond = -frustum.heights(corners)  # (m, 3, planes)
        places = beyond.reshape(-1, beyond.shape[-1])
        best = np.max(places, axis=1)
        if np.min(best) < nearest:
            nearest = float(np.min(best))
            side = int(np.argmax(places[int(np.argmin(best))]))
        least = np.max(np.min(beyond, axis=1), axis=1)  # no place of the triangle is nearer
        corners = corners[least < nearest - CLOSE_M]
        if not len(corners):
            break
        corners = _quartered(corners)
    # A plane that has all of the mesh outside names its side better than the nearest place does.
    apart = np.min(-frustum.heights(mesh[0]), axis=0)
    if np.max(apart) > 0:
        side = int(np.argmax(apart))
    name = SIDES[side] if side < len(SIDES) else "behind the lens"
    return Clearance(max(0.0, nearest), name)


def _quartered(corners: Floats) -> Floats:
    """Triangles (m, 3, 3) cut into four each, (4 m, 3, 3)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, bc, ca = 0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a)
    parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return np.concatenate([np.stack(part, 1) for part in parts])


def way_out(frustum: Frustum, mesh: Mesh) -> tuple[float, str]:
    """The shortest move [m] that takes all of a solid past one edge of the frame, and that edge.

    Measured at right angles to the edge; what is behind the lens need not move.
    """
    heights = frustum.heights(mesh[0])
    ahead = heights[:, 4] > 0
    deepest = np.max(heights[ahead, : len(SIDES)], axis=0)
    side = int(np.argmin(deepest))
    return float(max(0.0, deepest[side])), SIDES[side]
