"""Strips of cloth sewn onto a top: neck bands, collars, lapels, plackets, with real thickness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, along, unit
from render.sitter.body import Cloth, Surface
from render.sitter.shape.surfaces import smooth_normals, triangles_of

_Mode = Literal["wrap", "nearest"]
_NEAR = 6  # cloth points whose mean plane a strip lies on


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The cloth (or skin) that strips lie on."""

    points: Array  # (n, 3) [dm]
    normals: Array  # (n, 3)
    tree: cKDTree

    def plane(self, at: Array) -> tuple[Array, Array]:
        """Foot (k, 3) and normal (k, 3) of the local plane under points (k, 3)."""
        away, found = self.tree.query(at, _NEAR)
        weight = 1 / (np.asarray(away) + 0.02)
        weight = (weight / weight.sum(1, keepdims=True))[..., None]
        normal = unit((self.normals[found] * weight).sum(1))
        foot = (self.points[found] * weight).sum(1)
        return at - normal * ((at - foot) * normal).sum(1, keepdims=True), normal


def ground(points: Array, normals: Array) -> Ground:
    return Ground(points, normals, cKDTree(points))


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """A strip laid on the ground: rows run along the path, columns away from it."""

    points: Array  # (k, m, 3)
    normals: Array  # (k, m, 3)


def even_path(points: Array, count: int, closed: bool, smooth: float = 2.0) -> Array:
    """A polyline (k, 3) walked in equal steps (count, 3) and smoothed over so many of them."""
    line = np.concatenate([points, points[:1]]) if closed else points
    run = np.append(0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1)))
    at = np.linspace(0, run[-1], count, endpoint=not closed)
    out = np.stack([np.interp(at, run, line[:, k]) for k in range(3)], 1)
    mode: _Mode = "wrap" if closed else "nearest"
    soft = gaussian_filter1d(out, smooth, axis=0, mode=mode)
    if not closed:
        keep = np.clip(np.minimum(np.arange(count), np.arange(count)[::-1]) / (3 * smooth), 0, 1)
        soft = out + keep[:, None] * (soft - out)
    return np.asarray(soft)


def walked(
    base: Ground, path: Array, heading: Array, reach: Array, columns: int, closed: bool
) -> Strip:
    """Walk from every path point (k, 3) over the ground along a heading (k, 3) as far as `reach`
    (k,) [dm]."""
    at, normal = base.plane(path)
    points, normals, ahead = [at], [normal], along(heading, normal)
    for _ in range(columns - 1):
        at, normal = base.plane(at + ahead * (reach / (columns - 1))[:, None])
        ahead = along(ahead, normal)
        points.append(at)
        normals.append(normal)
    blur = (1.5, 1.0, 0)
    mode: tuple[_Mode, _Mode, _Mode] = ("wrap" if closed else "nearest", "nearest", "nearest")
    laid = np.stack(points, 1)
    soft = gaussian_filter(laid, blur, mode=mode)
    return Strip(soft, unit(gaussian_filter(np.stack(normals, 1), blur, mode=mode)))


def lifted(strip: Strip, lift: Array, thickness: Array | float) -> Array:
    """Upper side of a strip (k, m) raised by `lift`, rolled over its far edge, and the underside.

    Returns a grid (k, 2m + 2, 3): outside from the path to the edge, then back underneath.
    """
    thick = np.broadcast_to(np.asarray(thickness), lift.shape)
    top = strip.points + strip.normals * lift[..., None]
    under = strip.points + strip.normals * (lift - thick)[..., None]
    outwards = unit(strip.points[:, -1] - strip.points[:, -2])
    half = 0.5 * thick[:, -1:, None]
    middle = 0.5 * (top[:, -1:] + under[:, -1:])
    lean = 0.6 * half * strip.normals[:, -1:]
    turn = [middle + 0.8 * half * outwards[:, None] + sign * lean for sign in (1, -1)]
    return np.concatenate([top, *turn, under[:, ::-1]], 1)


def grid_surface(
    name: str, grid: Array, closed: bool, cloth: Cloth, outside: Array, across: float = 1.0
) -> Surface:
    """A grid (k, m, 3) as a surface; uv is the way along both directions [dm].

    closed  : rows run round and meet
    outside : (k, 3) which way the second column faces
    across  : stretches u, for ribs that go evenly into a closed strip
    """
    if closed:
        grid, outside = np.concatenate([grid, grid[:1]]), np.concatenate([outside, outside[:1]])
    rows, columns = grid.shape[:2]
    i = np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)
    quads = np.stack([i, i + 1, i + columns + 1, i + columns], -1).reshape(-1, 4)
    points = grid.reshape(-1, 3)
    normals = smooth_normals(points, quads).reshape(grid.shape)
    if (normals[:, 1] * outside).sum() < 0:
        quads, normals = quads[:, ::-1], -normals
    if closed:
        normals[[0, -1]] = unit(normals[:1] + normals[-1:])
    u = _way(grid.mean(1))[:, None] * across + np.zeros(columns)
    v = _way(grid.mean(0))[None] + np.zeros((rows, 1))
    return Surface(
        name=name,
        vertices=points.astype(np.float32),
        triangles=triangles_of(quads).astype(np.int32),
        normals=normals.reshape(-1, 3).astype(np.float32),
        uv=np.stack([u, v], -1).reshape(-1, 2).astype(np.float32),
        material=cloth,
    )


def _way(line: Array) -> Array:
    return np.append(0.0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1)))


def cleared(grid: Array, base: Ground, gap: Array) -> Array:
    """A grid (k, m, 3) moved off the ground where a column comes nearer than its gap (m,) [dm]."""
    out = grid
    for _ in range(4):
        foot, normal = base.plane(out.reshape(-1, 3))
        high = ((out.reshape(-1, 3) - foot) * normal).sum(1).reshape(grid.shape[:2])
        lack = np.maximum(gap[None] - high, 0)
        lack = np.maximum(lack, gaussian_filter(lack, (3.0, 1.0), mode="nearest"))
        out = out + lack[..., None] * normal.reshape(grid.shape)
    return np.asarray(out)


def tube(path: Array, out: Array, radius: float, sides: int, closed: bool) -> Array:
    """Round piping (k, sides + 1, 3) along a path (k, 3); out (k, 3) points off the cloth."""
    step = np.roll(path, -1, 0) - np.roll(path, 1, 0) if closed else np.gradient(path, axis=0)
    ahead = unit(np.asarray(step))
    out = along(out, ahead)
    angle = np.linspace(0, 2 * np.pi, sides + 1)[None, :, None]
    ring = out[:, None] * np.cos(angle) + np.cross(ahead, out)[:, None] * np.sin(angle)
    return np.asarray(path[:, None] + radius * ring)


def disc(centre: Array, normal: Array, up: Array, profile: Array, sides: int) -> Array:
    """A turned button (sides, m, 3): profile (m, 2) of radius and height [dm]."""
    y = along(up, normal)
    x = np.cross(y, normal)
    angle = -np.linspace(0, 2 * np.pi, sides, endpoint=False)[:, None, None]
    r, h = profile[None, :, :1], profile[None, :, 1:]
    return np.asarray(centre + r * (np.cos(angle) * x + np.sin(angle) * y) + h * normal)


def rim_chain(edges: Index) -> Index:
    """Vertices of the longest chain of directed edges (k, 2)."""
    following = {int(a): int(b) for a, b in edges}
    chains = []
    while following:
        start = min(following)
        chain = [start]
        while (after := following.pop(chain[-1], None)) is not None and after != start:
            chain.append(after)
        chains.append(chain)
    return np.array(max(chains, key=len))
