"""The bust that all sitters share: faces, subdivision, map coordinates and the closed underside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from render.sitter.arrays import Array, Index, Mask, smoothstep
from render.sitter.shape.carried import catmull_clark, split_linear
from render.sitter.shape.fill import fill
from render.sitter.shape.head_data import HeadData
from render.sitter.shape.surfaces import open_loops, triangles_of

LEVELS = 2  # subdivision levels: face edges of about 2 mm, enough for a smooth outline
# The map wraps a capsule round the reference head: axis height and depth, end radius [dm].
CAPSULE_Z, CAPSULE_Y, CAPSULE_RADIUS = 0.45, 7.60, 0.90
_MAP_LOW = -2.83  # lower end of the map, from CAPSULE_Y [dm]
# Below lie only cloth and bare arms: they share the lowest part of the map, ever more squeezed,
# and stay clear of its last rows, which are blended with the crown. Shares of the height.
_SQUEEZED, _MARGIN = 0.04, 0.006
# From the root of the neck on, the map follows the shoulders outwards and shows them at half the
# detail of the face: start, from CAPSULE_Y [dm]; share of the detail; weight of the way outwards.
_YOKE, _YOKE_DETAIL, _YOKE_ASIDE = -1.62, 0.52, 0.55
_NECK_RADIUS = 0.75  # [dm] round the capsule's axis
MAP_ASPECT = 4 / 3  # width : height of skin maps, so that texels come out square
# The nipples, which every top covers and none should show: place and reach [dm]; by eye.
_NIPPLE, NIPPLE_REACH = np.array([1.015, 4.07, 1.50]), 0.38
WALL_DM = 0.10  # depth of the closing wall under the cut


@dataclass(frozen=True, slots=True, eq=False)
class Bust:
    """Subdivided topology; `verts` turns base vertices into bust vertices."""

    matrix: sp.csr_matrix  # (n, base n)
    quads: Index  # (m, 4)
    reference: Array  # (n, 3) the reference head [dm]
    map_uv: Array  # (n, 2) skin map coordinates, v = 1 at the crown
    wrapped: Mask  # (m, 4) corners whose u lies one turn further
    cloth_uv: Array  # (n, 2) flat coordinates for weaves; seams only under the arms
    loops: tuple[Index, ...]  # open edges of the cut
    arm: Array  # (n,) 0..1, how far each vertex follows the arms

    def verts(self, base: Array) -> Array:
        """Bust vertices (n, 3) of a sitter's posed base vertices."""
        return np.asarray(self.matrix @ base)


def build_bust(head: HeadData) -> Bust:
    """Subdivide the base mesh once for all sitters."""
    matrix, quads = sp.csr_matrix(sp.identity(len(head.vertices))), head.quads
    uv, uv_quads = head.uv, head.uv_quads
    for _ in range(LEVELS):
        level, quads = catmull_clark(quads, matrix.shape[0])
        matrix = sp.csr_matrix(level @ matrix)
        uv, uv_quads = split_linear(uv_quads, uv)
    # Guides for joints and eyes belong to no face: drop their rows.
    used, inverse = np.unique(quads, return_inverse=True)
    matrix, quads = matrix[used], inverse.reshape(-1, 4)
    reference = np.asarray(matrix @ head.reference)
    # Their dense points stay, on the smooth continuation of the breast around them.
    plain = fill(reference, triangles_of(quads), nipple_distance(reference) < NIPPLE_REACH)
    matrix, reference = sp.csr_matrix(plain @ matrix), np.asarray(plain @ reference)
    map_uv = capsule_uv(reference)
    u = map_uv[quads, 0]
    wrapped = (np.ptp(u, axis=1, keepdims=True) > 0.5) & (u < 0.5)
    cloth_uv = np.zeros((len(used), 2))
    cloth_uv[quads.ravel()] = uv[uv_quads.ravel()]
    loops = tuple(open_loops(quads))
    arm = np.clip(matrix @ head.arm_weight, 0, 1)
    return Bust(matrix, quads, reference, map_uv, wrapped, cloth_uv, loops, arm)


def nipple_distance(reference: Array) -> Array:
    """Distance (n,) [dm] of points on the reference head (n, 3) from the nearer nipple."""
    mirrored = np.abs(reference) * [1, 0, 0] + reference * [0, 1, 1]
    return np.asarray(np.linalg.norm(mirrored - _NIPPLE, axis=1))


def capsule_uv(reference: Array) -> Array:
    """Map coordinates (n, 2): azimuth round the capsule, length along it from cut to crown."""
    x, y, z = reference[:, 0], reference[:, 1], reference[:, 2] - CAPSULE_Z
    radius = np.hypot(x, z)
    height = y + 0.4 * (np.minimum(radius, 1.1) - 1.0)
    dome = CAPSULE_RADIUS * np.arctan2(height - CAPSULE_Y, np.maximum(radius, 1e-6))
    length = np.where(height > CAPSULE_Y, dome, height - CAPSULE_Y)
    beside = _YOKE_ASIDE * np.maximum(radius - _NECK_RADIUS, 0.0)
    beside = beside * smoothstep(_YOKE + 0.2, _YOKE - 0.4, length)
    yoke = _YOKE + _YOKE_DETAIL * (length - beside - _YOKE)
    length = np.where(length - beside < _YOKE, yoke, length)
    top = CAPSULE_RADIUS * np.pi / 2
    v = np.minimum((length - _MAP_LOW) / (top - _MAP_LOW), 1)
    room = _SQUEEZED - _MARGIN
    v = np.maximum(v, _SQUEEZED - room * (1 - 1 / (1 + np.maximum(_SQUEEZED - v, 0) / room)))
    return np.stack([0.5 + np.arctan2(x, z) / (2 * np.pi), v], 1)


def closing(bust: Bust, vertices: Array) -> tuple[Array, Index]:
    """Walls and floors under the open edges that make the skin a closed volume.

    vertices : (n, 3) [dm]; returns added vertices (k, 3), numbered from n on, and triangles.
    """
    added: list[Array] = []
    faces: list[Index] = []
    count = len(vertices)
    for loop in bust.loops:
        floor = vertices[loop].copy()
        floor[:, 1] = vertices[loop, 1].min() - WALL_DM
        upper, upper_next = loop, np.roll(loop, -1)
        lower = count + np.arange(len(loop))
        lower_next = np.roll(lower, -1)
        hub = np.full(len(loop), count + len(loop))
        faces += [
            np.stack([upper_next, upper, lower], 1),
            np.stack([upper_next, lower, lower_next], 1),
            np.stack([lower_next, lower, hub], 1),
        ]
        added += [floor, floor.mean(0, keepdims=True)]
        count += len(loop) + 1
    return np.concatenate(added), np.concatenate(faces)
