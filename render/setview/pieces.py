"""Plain pieces that the drawn set is put together from: tubes, boxes, lofts, joined meshes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import facing, unit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mesh = tuple[Floats, Ints]  # vertices (n, 3) [m], triangles (m, 3)

SIDES = 16  # of a tube: its corners leave the circle by 2 %


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Several meshes as one; of none, an empty one."""
    if not meshes:
        return np.zeros((0, 3)), np.zeros((0, 3), np.int64)
    first = np.cumsum([0, *(len(vertices) for vertices, _ in meshes)])
    triangles = [faces + start for (_, faces), start in zip(meshes, first, strict=False)]
    return np.concatenate([vertices for vertices, _ in meshes]), np.concatenate(triangles)


def loft(rings: Floats) -> Mesh:
    """A closed skin over rings (k, n, 3) [m] of corners, capped at both ends."""
    count, corners = rings.shape[:2]
    k = np.arange(corners)
    faces = []
    for ring in range(count - 1):
        a, b = ring * corners, (ring + 1) * corners
        nxt = (k + 1) % corners
        faces += [np.stack([a + k, a + nxt, b + nxt], -1), np.stack([a + k, b + nxt, b + k], -1)]
    fan = np.arange(1, corners - 1)
    last = (count - 1) * corners
    faces += [np.stack([0 * fan, fan + 1, fan], -1), last + np.stack([0 * fan, fan, fan + 1], -1)]
    return rings.reshape(-1, 3), np.concatenate(faces)


def tube(start: Floats, end: Floats, radius_m: float, end_radius_m: float | None = None) -> Mesh:
    """A round bar between two places (3,) [m]; a cone where the radii differ."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    right, up = facing(unit(end - start))
    turn = 2 * np.pi * np.arange(SIDES) / SIDES
    ring = np.cos(turn)[:, None] * right + np.sin(turn)[:, None] * up
    far = radius_m if end_radius_m is None else end_radius_m
    return loft(np.stack([start + radius_m * ring, end + far * ring]))


def box(middle: Floats, axes: Floats, size_m: tuple[float, float, float]) -> Mesh:
    """A box about its middle (3,); rows of axes (3, 3) are units along its three sizes [m]."""
    x, y, z = 0.5 * np.asarray(size_m)[:, None] * np.asarray(axes, float)
    ring = np.stack([-x - y, x - y, x + y, -x + y]) + middle
    return loft(np.stack([ring - z, ring + z]))


def coarse(mesh: Mesh, cell_m: float) -> Mesh:
    """The same shape with all vertices of one cell of a grid drawn together in their mean."""
    vertices, triangles = mesh
    cells = np.floor(vertices / cell_m).astype(np.int64)
    _, label, count = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
    label = label.reshape(-1)
    means = np.stack([np.bincount(label, vertices[:, i]) for i in range(3)], -1) / count[:, None]
    faces = label[triangles]
    a, b, c = faces.T
    return means, faces[(a != b) & (b != c) & (c != a)]
