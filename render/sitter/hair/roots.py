"""Where hairs start: random points on the skin, and how far any point is outside the skin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, Mask, Rng, barycentric, dot, unit
from render.sitter.shape.surfaces import triangles_of

_CELL, _PARTS = 0.12, 3  # [dm] grid that tells points far from the skin, and its finer parts
_FINE = _CELL / _PARTS
_BAND = 0.05  # [dm] off the surface to which the finer parts are exact

_HALF = 0.5 * np.sqrt(3) * _FINE  # no point of a cell is farther from its middle


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Random points on a mesh with their triangle and barycentric weights."""

    points: Array  # (k, 3)
    normals: Array  # (k, 3) unit
    triangles: Index  # (k, 3)
    weights: Array  # (k, 3)

    def carry(self, values: Array) -> Array:
        """Vertex values (n,) or (n, c) at the spots."""
        corners = values[self.triangles]
        weights = self.weights if values.ndim == 1 else self.weights[..., None]
        return np.asarray((corners * weights).sum(1))


def scatter(quads: Index, skin: tuple[Array, Array], weight: Array, count: int, rng: Rng) -> Spots:
    """Random spots with density proportional to a vertex weight (n,); skin: vertices, normals."""
    vertices, normals = skin
    triangles = triangles_of(quads[weight[quads].max(1) > 0])
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    share = np.linalg.norm(np.cross(b - a, c - a), axis=1) * weight[triangles].mean(1)
    chosen = triangles[rng.choice(len(triangles), count, p=share / share.sum())]
    bary = barycentric(count, rng)
    points = (vertices[chosen] * bary[..., None]).sum(1)
    return Spots(points, unit((normals[chosen] * bary[..., None]).sum(1)), chosen, bary)


class Outside:
    """Signed height of points over a cloud of surface points with normals [dm]."""

    __slots__ = ("_coarse", "_gaps", "_low", "_normals", "_points", "_tree")

    def __init__(self, points: Array, normals: Array) -> None:
        self._points, self._normals = points, normals
        self._tree = cKDTree(points)
        self._low = points.min(0) - 2 * _CELL
        cells = np.ceil((points.max(0) + 2 * _CELL - self._low) / _CELL).astype(int)
        # Gaps of cells and of their finer parts are found when a point first lies in one.
        self._coarse = np.full(cells, np.nan)
        self._gaps = np.full(cells * _PARTS, np.nan)

    def _find(self, parts: Index) -> None:
        """Gaps of finer parts (k, 3): exact near the surface; elsewhere a bound will do."""
        cells = parts // _PARTS
        new = np.isnan(self._coarse[tuple(cells.T)])
        asked = np.unique(np.ravel_multi_index(tuple(cells[new].T), self._coarse.shape))
        at = np.stack(np.unravel_index(asked, self._coarse.shape), 1)
        self._coarse.ravel()[asked] = self._signed(self._low + _CELL * (at + 0.5))
        coarse = self._coarse[tuple(cells.T)]
        gaps = np.sign(coarse) * (np.abs(coarse) - _HALF * _PARTS)
        close = np.abs(coarse) < _HALF * _PARTS + _BAND
        gaps[close] = self._signed(self._low + _FINE * (parts[close] + 0.5))
        self._gaps[tuple(parts.T)] = gaps

    def _signed(self, points: Array) -> Array:
        """Distance of points (..., 3) from the nearest surface point, negative inside."""
        gap, i = (np.asarray(found) for found in self._tree.query(points))
        return self._with_sign(points, gap, i)

    def _with_sign(self, points: Array, gap: Array, i: Index) -> Array:
        below = dot(points - self._points[i], self._normals[i]) < -0.25 * gap
        return np.where(below, -gap, gap)

    def near(self, query: Array, reach: float) -> Mask:
        """Points (k,) that may lie within `reach` [dm] of the surface; the others surely do not."""
        return np.asarray(np.abs(self._gap(query)) < reach + _HALF)

    def buried(self, query: Array, depth: float) -> Mask:
        """Points (k,) that lie deeper than this under the surface [dm]."""
        gap = self._gap(query)
        out = np.asarray(gap < -depth - _HALF)
        close = np.flatnonzero(np.abs(gap) <= depth + _HALF)
        # Ears are so thin that points of their other side would tip the mean.
        q = query[close]
        gap, i = self._nearest(q)
        mean = self._mean(q, gap, i)[0]
        out[close] = (mean < -depth) | (self._with_sign(q, gap[:, 0], i[:, 0]) < -depth)
        return out

    def _gap(self, query: Array) -> Array:
        """Distance (k,) of the middle of each point's cell from the surface, negative inside."""
        cell = np.floor((query - self._low) / _FINE).astype(int)
        cell = np.clip(cell, 0, np.array(self._gaps.shape) - 1)
        flat = np.ravel_multi_index(tuple(cell.T), self._gaps.shape)
        new = np.unique(flat[np.isnan(self._gaps.ravel()[flat])])
        if len(new):
            self._find(np.stack(np.unravel_index(new, self._gaps.shape), 1))
        return np.asarray(self._gaps.ravel()[flat])

    def __call__(self, query: Array) -> tuple[Array, Array]:
        """Height (k,), positive outside, and surface normal (k, 3) at query (k, 3)."""
        return self._mean(query, *self._nearest(query))

    def _nearest(self, query: Array) -> tuple[Array, Index]:
        """Distances and numbers (k, 4) of the surface points nearest to query (k, 3)."""
        near, found = self._tree.query(query, k=4)
        return np.asarray(near), np.asarray(found)

    def _mean(self, query: Array, distance: Array, i: Index) -> tuple[Array, Array]:
        w = 1 / (distance + 1e-3) ** 2
        w /= w.sum(1, keepdims=True)
        normal = unit((self._normals[i] * w[..., None]).sum(1))
        height = (dot(query[:, None] - self._points[i], self._normals[i]) * w).sum(1)
        far: Mask = distance[:, 0] > 0.25
        return np.where(far, np.maximum(np.abs(height), distance[:, 0]), height), normal
