"""Shape and pose of a sitter: mixing shape changes, lowering the arms, turning the head."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from render.errors import MeshError
from render.sitter.arrays import Array, smoothstep
from render.sitter.shape.head_data import HeadData

# The base mesh holds its arms away from the body, which lifts the collar bones with them: down
# at the sides, collar bones and shoulders sink and slope. Both angles were set by eye.
GIRDLE_DEG = 13.0  # turns collar bone, shoulder blade and arm about the breastbone
ARM_DEG = 31.0  # turns the arm about the shoulder
# The end of the shoulder blade stands out over a hanging arm, which blended turns round off: its
# lift, its place outwards of the joint, and how far the lift reaches along x, y and z [dm].
_POINT_LIFT, _POINT_ASIDE, _POINT_REACH = 0.14, 0.18, np.array([0.34, 0.55, 0.50])


def mix(head: HeadData, recipe: Iterable[tuple[str, float]]) -> Array:
    """Base vertices (n, 3) [dm] plus weighted shape changes; MeshError for an unknown one."""
    vertices = head.vertices.copy()
    for name, weight in recipe:
        if name not in head.morphs:
            raise MeshError(f"the head data have no shape change {name!r}")
        ids, displacement = head.morphs[name]
        vertices[ids] += weight * displacement
    return vertices


def lowered(vertices: Array, weight: Array, pivots: tuple[Array, Array], degrees: float) -> Array:
    """Vertices (n, 3) turned down about the left or right pivot (3,) by weight (n,) times degrees.

    Blending the angle instead of the positions keeps the shoulder's volume.
    """
    out = vertices.copy()
    for sign, pivot in zip((1.0, -1.0), pivots, strict=True):
        moved = (weight > 0) & (np.sign(vertices[:, 0]) == sign)
        angle = -sign * np.radians(degrees) * np.clip(weight[moved], 0, 1)
        q = vertices[moved] - pivot
        out[moved, 0] = pivot[0] + np.cos(angle) * q[:, 0] - np.sin(angle) * q[:, 1]
        out[moved, 1] = pivot[1] + np.sin(angle) * q[:, 0] + np.cos(angle) * q[:, 1]
    return out


def posed(head: HeadData, recipe: Iterable[tuple[str, float]]) -> Array:
    """A sitter's vertices (n, 3) [dm] with arms and shoulders hanging."""
    vertices = mix(head, recipe)
    shoulders = head.joint(vertices, "l-shoulder"), head.joint(vertices, "r-shoulder")
    collar_bones = head.joint(vertices, "l-clavicle"), head.joint(vertices, "r-clavicle")
    vertices = lowered(vertices, head.arm_weight, shoulders, ARM_DEG)
    vertices = lowered(vertices, head.girdle_weight, collar_bones, GIRDLE_DEG)
    return pointed(vertices, head)


def pointed(vertices: Array, head: HeadData) -> Array:
    """Vertices (n, 3) with the bony point of either shoulder lifted."""
    out = vertices.copy()
    for sign, side in ((1.0, "l"), (-1.0, "r")):
        place = head.joint(vertices, f"{side}-shoulder")
        beside = (head.girdle_weight > 0) & (np.sign(vertices[:, 0]) == sign)
        place[0] += sign * _POINT_ASIDE
        near = np.abs(vertices[:, 0] - place[0]) < 0.5 * _POINT_REACH[0]
        place[1] = vertices[beside & near, 1].max()
        bump = np.exp(-(((vertices - place) / _POINT_REACH) ** 2).sum(1))
        out[:, 1] += _POINT_LIFT * bump * beside
    return out


@dataclass(frozen=True, slots=True, eq=False)
class HeadPose:
    """Turn (+ to the sitter's left), nod (+ down), tilt (+ crown to the sitter's right).

    The rotation fades down the neck.
    """

    turn_deg: float
    nod_deg: float
    tilt_deg: float
    pivot: Array  # (3,) [dm]
    fade_low: float  # height [dm] where loose hair stops following the head
    fade_high: float  # height [dm] above which it follows fully

    def __call__(self, points: Array, weight: float | Array = 1.0) -> Array:
        """Posed copy of points (..., 3); weight (...) is how far each follows the head."""
        q = points.reshape(-1, 3) - self.pivot
        follow = np.broadcast_to(weight, points.shape[:-1]).ravel()
        turns = ((0, 1, self.tilt_deg), (1, 2, self.nod_deg), (2, 0, self.turn_deg))
        for i, j, degrees in turns:
            c, s = np.cos(np.radians(degrees) * follow), np.sin(np.radians(degrees) * follow)
            q[:, i], q[:, j] = c * q[:, i] - s * q[:, j], s * q[:, i] + c * q[:, j]
        return np.asarray((q + self.pivot).reshape(points.shape))

    def loose(self, points: Array) -> Array:
        """Posed copy of hanging hair (..., 3), which follows by its height."""
        return self(points, self.follow(points))

    def follow(self, points: Array) -> Array:
        """How far hanging hair (..., 3) follows the head (...)."""
        return smoothstep(self.fade_low, self.fade_high, points[..., 1])


def head_pose(
    head: HeadData, vertices: Array, turn_deg: float, nod_deg: float, tilt_deg: float
) -> HeadPose:
    """The pose of this sitter's neck."""
    skull, neck = head.joint(vertices, "head"), head.joint(vertices, "neck")
    pivot = np.array([0.0, 0.5 * (skull[1] + neck[1]), 0.55 * skull[2] + 0.45 * neck[2]])
    return HeadPose(turn_deg, nod_deg, tilt_deg, pivot, neck[1] - 0.25, skull[1] - 0.05)
