"""Which point of the skin each map texel shows, found by drawing the mesh into its own map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Index
from render.sitter.shape.bust import CAPSULE_Z, MAP_ASPECT, Bust
from render.sitter.shape.surfaces import triangles_of

_GROW = 0.04  # triangles are drawn slightly too large so that no texel between two is missed


@dataclass(frozen=True, slots=True, eq=False)
class Texels:
    """Corner vertices (h, w, 3) and weights (h, w, 3) of the triangle under every texel."""

    corners: Index
    weights: Array

    def bake(self, values: Array) -> Array:
        """Vertex values (n,) as an image (h, w)."""
        return np.asarray((values.astype(np.float32)[self.corners] * self.weights).sum(-1))


def _drawing_order(bust: Bust, triangles: Index) -> Index:
    """Inner faces (mouth, nostrils, behind the ears) first, the outermost skin last."""
    corners = bust.reference[triangles]
    centre = corners.mean(1)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    outward = normal[:, 0] * centre[:, 0] + normal[:, 2] * (centre[:, 2] - CAPSULE_Z)
    outward += 0.6 * normal[:, 1] * np.maximum(centre[:, 1] - 7.6, 0)
    radius = np.hypot(centre[:, 0], centre[:, 2] - CAPSULE_Z)
    return np.lexsort((radius, outward > 0))


def map_texels(bust: Bust, width: int) -> Texels:
    """Draw the bust into a map of this width [texels]; uncovered texels take the nearest row's."""
    height = round(width / MAP_ASPECT)
    triangles = triangles_of(bust.quads)
    u = bust.map_uv[triangles, 0] + triangles_of(bust.wrapped)
    pixel = np.stack([u * width - 0.5, (1 - bust.map_uv[triangles, 1]) * height - 0.5], -1)
    order = _drawing_order(bust, triangles)
    owner = np.full(height * width, -1, np.int64)
    weights = np.zeros((height * width, 3), np.float32)
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    best = np.full(height * width, -1, np.int64)
    for face, x, y, bary in _fragments(pixel):
        # Of several faces in one texel the last drawn stays: sort, later entries win.
        on_map = np.flatnonzero((y >= 0) & (y < height))
        on_map = on_map[np.argsort(rank[face[on_map]], kind="stable")]
        texel = y[on_map] * width + x[on_map] % width
        ahead = rank[face[on_map]] > best[texel]
        on_map, texel = on_map[ahead], texel[ahead]
        best[texel] = rank[face[on_map]]
        owner[texel] = face[on_map]
        weights[texel] = bary[on_map]
    corners = triangles[np.maximum(owner, 0)]
    return _filled(corners, weights, owner, (height, width))


def _fragments(pixel: Array) -> list[tuple[Index, Index, Index, Array]]:
    """Texels inside each triangle, in groups of equal box size: face, x, y, barycentric."""
    low = np.floor(pixel.min(1)).astype(np.int64)
    box = np.maximum(np.ceil(pixel.max(1)).astype(np.int64) - low + 1, 1)
    size = np.ceil(box.max(1) / 3).astype(np.int64) * 3
    out = []
    for edge in np.unique(size):
        faces = np.flatnonzero(size == edge)
        step = max(1, 4_000_000 // int(edge) ** 2)
        for start in range(0, len(faces), step):
            out.append(_inside(pixel, low, faces[start : start + step], int(edge)))
    return out


def _inside(pixel: Array, low: Index, faces: Index, edge: int) -> tuple[Index, Index, Index, Array]:
    offset = np.stack(np.meshgrid(np.arange(edge), np.arange(edge)), -1).reshape(-1, 2)
    grid = low[faces][:, None] + offset[None]
    a, b, c = (pixel[faces, k][:, None] for k in range(3))
    ab, ac, ap = b - a, c - a, grid - a
    area = ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0]
    area = np.where(np.abs(area) < 1e-9, 1e-9, area)
    v = (ap[..., 0] * ac[..., 1] - ap[..., 1] * ac[..., 0]) / area
    w = (ab[..., 0] * ap[..., 1] - ab[..., 1] * ap[..., 0]) / area
    u = 1 - v - w
    hit = (u > -_GROW) & (v > -_GROW) & (w > -_GROW)
    found = np.clip(np.stack([u[hit], v[hit], w[hit]], -1), 0, 1)
    found /= (found[:, 0] + found[:, 1] + found[:, 2])[:, None]
    face = np.repeat(faces, offset.shape[0]).reshape(hit.shape)[hit]
    return face, grid[..., 0][hit], grid[..., 1][hit], found


def _filled(corners: Index, weights: Array, owner: Index, shape: tuple[int, int]) -> Texels:
    """Rows without any skin (under the cloth) repeat the last row that has some."""
    drawn = (owner >= 0).reshape(shape)
    row = np.where(drawn, np.arange(shape[0])[:, None], -1)
    row = np.maximum.accumulate(row, axis=0)
    first = drawn.argmax(0)
    row = np.where(row < 0, first[None], row)
    column = np.broadcast_to(np.arange(shape[1]), shape)
    return Texels(corners.reshape(*shape, 3)[row, column], weights.reshape(*shape, 3)[row, column])
