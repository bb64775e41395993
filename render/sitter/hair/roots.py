"""Where hairs start: random points on the skin, and how far any point is outside the skin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, Mask, Rng, unit
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


def barycentric(count: int, rng: Rng) -> Array:
    """Uniform barycentric weights (count, 3)."""
    u = rng.random((count, 2))
    root = np.sqrt(u[:, 0])
    return np.stack([1 - root, root * (1 - u[:, 1]), root * u[:, 1]], 1)


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

    __slots__ = ("_gaps", "_low", "_normals", "_points", "_tree")

    def __init__(self, points: Array, normals: Array) -> None:
        self._points, self._normals = points, normals
        self._tree = cKDTree(points)
        self._low = points.min(0) - 2 * _CELL
        cells = np.ceil((points.max(0) + 2 * _CELL - self._low) / _CELL).astype(int)
        coarse = self._signed(self._middles(cells, _CELL))
        # Cells near the surface are asked again in finer parts; elsewhere a bound will do.
        for axis in range(3):
            coarse = np.repeat(coarse, _PARTS, axis)
        middles = self._middles(cells * _PARTS, _FINE)
        close = np.abs(coarse) < _HALF * _PARTS + _BAND
        self._gaps = np.sign(coarse) * (np.abs(coarse) - _HALF * _PARTS)
        self._gaps[close] = self._signed(middles[close])

    def _middles(self, cells: Index, size: float) -> Array:
        axes = [self._low[k] + size * (np.arange(cells[k]) + 0.5) for k in range(3)]
        return np.stack(np.meshgrid(*axes, indexing="ij"), -1)

    def _signed(self, points: Array) -> Array:
        """Distance of points (..., 3) from the nearest surface point, negative inside."""
        gap, i = (np.asarray(found) for found in self._tree.query(points))
        below = ((points - self._points[i]) * self._normals[i]).sum(-1) < -0.25 * gap
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
        out[close] = (self(q)[0] < -depth) | (self._signed(q) < -depth)
        return out

    def _gap(self, query: Array) -> Array:
        """Distance (k,) of the middle of each point's cell from the surface, negative inside."""
        cell = np.floor((query - self._low) / _FINE).astype(int)
        cell = np.clip(cell, 0, np.array(self._gaps.shape) - 1)
        return np.asarray(self._gaps[cell[:, 0], cell[:, 1], cell[:, 2]])

    def __call__(self, query: Array) -> tuple[Array, Array]:
        """Height (k,), positive outside, and surface normal (k, 3) at query (k, 3)."""
        near, found = self._tree.query(query, k=4)
        distance, i = np.asarray(near), np.asarray(found)
        w = 1 / (distance + 1e-3) ** 2
        w /= w.sum(1, keepdims=True)
        normal = unit((self._normals[i] * w[..., None]).sum(1))
        height = (((query[:, None] - self._points[i]) * self._normals[i]).sum(-1) * w).sum(1)
        far: Mask = distance[:, 0] > 0.25
        return np.where(far, np.maximum(np.abs(height), distance[:, 0]), height), normal
