"""Mesh arithmetic without large libraries: triangles, smooth normals, open edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.sitter.arrays import Array, Index, Mask, unit
from render.sitter.body import Surface


def triangles_of(quads: Index | Mask) -> Index:
    """Quads (m, 4) as triangles (2m, 3): all first halves, then all second halves."""
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def compact(surface: Surface) -> Surface:
    """The surface without vertices that no triangle uses."""
    used, inverse = np.unique(surface.triangles, return_inverse=True)
    return replace(
        surface,
        vertices=surface.vertices[used],
        triangles=inverse.reshape(-1, 3).astype(np.int32),
        normals=surface.normals[used],
        uv=surface.uv[used],
    )


def smooth_normals(vertices: Array, faces: Index) -> Array:
    """Unit vertex normals (n, 3) of triangles or quads, weighted by face area."""
    if faces.shape[1] == 4:
        across = vertices[faces[:, 2]] - vertices[faces[:, 0]]
        other = vertices[faces[:, 3]] - vertices[faces[:, 1]]
    else:
        across = vertices[faces[:, 1]] - vertices[faces[:, 0]]
        other = vertices[faces[:, 2]] - vertices[faces[:, 0]]
    face_normal = np.cross(across, other)
    total = np.zeros((len(vertices), 3))
    for corner in range(faces.shape[1]):
        for axis in range(3):
            total[:, axis] += np.bincount(faces[:, corner], face_normal[:, axis], len(vertices))
    return unit(total)


def open_loops(quads: Index) -> list[Index]:
    """Closed chains of vertices along the open edges, in face direction."""
    sides = np.stack([quads, np.roll(quads, -1, 1)], -1).reshape(-1, 2)
    low, high = sides.min(1), sides.max(1)
    _, first, shared = np.unique(
        low * (sides.max() + 1) + high, return_index=True, return_counts=True
    )
    following = {int(a): int(b) for a, b in sides[first[shared == 1]]}
    loops = []
    while following:
        start = min(following)
        loop, here = [start], following.pop(start)
        while here != start:
            loop.append(here)
            here = following.pop(here)
        loops.append(np.array(loop))
    return loops


def open_vertices(triangles: Index, count: int) -> Mask:
    """True for vertices (n,) on an open edge."""
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    edges, on_edge = np.unique(np.sort(sides, 1), axis=0, return_counts=True)
    rim = np.zeros(count, bool)
    rim[edges[on_edge == 1].ravel()] = True
    return rim
