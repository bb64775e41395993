"""A small patch of surface round a point: where a meter's disc or a spot reading looks."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from render.sitter.arrays import Array, Index, Mask, barycentric, unit
from render.sitter.body import Floats, Surface

_FACING = 0.5  # cosine: patches do not reach round to the other side of an ear or a lip
_MAX_ROUNDS = 64


def nearest_on_triangles(point: Array, corners: Array) -> tuple[Array, Array]:
    """Closest points (m, 3) on triangles (m, 3, 3) to one point and their barycentrics (m, 3).

    Projects on each plane, then on each side where the projection falls outside.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, ac, ap = b - a, c - a, point - a
    d00, d01, d11 = (ab * ab).sum(1), (ab * ac).sum(1), (ac * ac).sum(1)
    d20, d21 = (ap * ab).sum(1), (ap * ac).sum(1)
    area = np.maximum(d00 * d11 - d01 * d01, 1e-30)
    v, w = (d11 * d20 - d01 * d21) / area, (d00 * d21 - d01 * d20) / area
    candidates = [np.stack([1 - v - w, v, w], 1)]
    for i, j in ((0, 1), (1, 2), (2, 0)):
        side = corners[:, j] - corners[:, i]
        t = ((point - corners[:, i]) * side).sum(1) / np.maximum((side * side).sum(1), 1e-30)
        weights = np.zeros((len(corners), 3))
        weights[:, j] = np.clip(t, 0, 1)
        weights[:, i] = 1 - weights[:, j]
        candidates.append(weights)
    bary = np.stack(candidates)  # (4, m, 3)
    found = np.einsum("kmj,mjd->kmd", bary, corners)
    distance = np.linalg.norm(found - point, axis=2)
    distance[0, bary[0].min(1) < 0] = np.inf
    best, row = distance.argmin(0), np.arange(len(corners))
    return found[best, row], bary[best, row]


@lru_cache(maxsize=4)
def _boxes(surface: Surface) -> tuple[Array, Array]:
    """Lower and upper corner (3, m) of every triangle's box, made once per surface."""
    along = [surface.vertices[:, axis][surface.triangles] for axis in range(3)]
    return np.stack([a.min(1) for a in along]), np.stack([a.max(1) for a in along])


def _box_gaps(surface: Surface, point: Array) -> Array:
    """How far the point lies outside every triangle's box (m,), along the worst axis."""
    low, high = _boxes(surface)
    gap = np.maximum(low[0] - point[0], point[0] - high[0])
    for axis in (1, 2):
        np.maximum(gap, low[axis] - point[axis], out=gap)
        np.maximum(gap, point[axis] - high[axis], out=gap)
    return np.asarray(gap)


def _around(surface: Surface, gap: Array, radius_m: float) -> Index:
    """Triangles (k, 3) whose box comes within a distance of the point; at least the nearest."""
    return np.asarray(surface.triangles[gap <= max(radius_m, float(gap.min()) + 1e-9)])


def _foot(surface: Surface, point: Array, gap: Array) -> tuple[Array, Array]:
    faces = _around(surface, gap, 0.02)
    corners = surface.vertices[faces].astype(np.float64)
    found, bary = nearest_on_triangles(point, corners)
    i = int(np.linalg.norm(found - point, axis=1).argmin())
    return found[i], unit(bary[i] @ surface.normals[faces[i]].astype(np.float64))


def on_surface(surface: Surface, point: Array) -> tuple[Array, Array]:
    """Closest point (3,) of a surface and its smooth unit normal (3,)."""
    return _foot(surface, point, _box_gaps(surface, point))


def near_surface(
    surface: Surface, point: Array, radius_m: float, count: int, seed: int
) -> tuple[Floats, Floats]:
    """Uniform random points (count, 3) on the surface within a radius of a point [m].

    Only skin that faces like the surface nearest to the point and hangs together with it counts.
    The points lie on the triangles; their unit normals (count, 3) are the smooth ones. The same
    seed gives the same points. Raises ValueError when nothing is within the radius.
    """
    centre = np.asarray(point, np.float64)
    gap = _box_gaps(surface, centre)
    _, axis = _foot(surface, centre, gap)
    faces = _around(surface, gap, radius_m)
    corners = surface.vertices[faces].astype(np.float64)
    nearest, _ = nearest_on_triangles(centre, corners)
    distance = np.linalg.norm(nearest - centre, axis=1)
    smooth = surface.normals[faces].astype(np.float64)
    usable = (distance <= radius_m) & ((smooth @ axis).max(1) > _FACING)
    if not usable.any():
        raise ValueError(f"{surface.name}: nothing within {radius_m} m of the point")
    start = int(np.where(usable, distance, np.inf).argmin())
    usable = _connected(corners, usable, start)
    return _sample(corners[usable], smooth[usable], (centre, axis), radius_m, (count, seed))


def _connected(corners: Array, usable: Mask, start: int) -> Mask:
    """Those usable triangles (m,) that hang together with the start; seams do not separate."""
    _, vertex = np.unique(np.round(corners.reshape(-1, 3), 7), axis=0, return_inverse=True)
    vertex = vertex.reshape(-1, 3)
    reached = np.zeros(len(corners), bool)
    reached[start] = True
    touched = np.zeros(int(vertex.max()) + 1, bool)
    while True:
        touched[vertex[reached]] = True
        grown = usable & touched[vertex].any(1)
        if (grown == reached).all():
            return reached
        reached = grown


def _sample(
    corners: Array,
    smooth: Array,
    place: tuple[Array, Array],
    radius_m: float,
    draw: tuple[int, int],
) -> tuple[Floats, Floats]:
    (centre, axis), (count, seed) = place, draw
    rng = np.random.default_rng(seed)
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    points, normals, found = [], [], 0
    for _ in range(_MAX_ROUNDS):
        i = rng.choice(len(corners), 4 * count + 16, p=area / area.sum())
        bary = barycentric(len(i), rng)[..., None]
        p, n = (corners[i] * bary).sum(1), unit((smooth[i] * bary).sum(1))
        good = (np.linalg.norm(p - centre, axis=1) <= radius_m) & (n @ axis > _FACING)
        points.append(p[good])
        normals.append(n[good])
        found += int(good.sum())
        if found >= count:
            break
    else:
        raise ValueError(f"too little surface within {radius_m} m of the point")
    p, n = np.concatenate(points)[:count], np.concatenate(normals)[:count]
    return p.astype(np.float32), n.astype(np.float32)
