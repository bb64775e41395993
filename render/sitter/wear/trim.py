"""Trim of a top: the rolled neck edge, the knit's relief, and weave without torn patches."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from render.sitter.arrays import Array, Index, unit
from render.sitter.body import Cloth, Surface
from render.sitter.shape.surfaces import smooth_normals, triangles_of

_EDGE_RADIUS = 0.024  # [dm] rolled upper edge of the band; set by eye
_EDGE_POINTS, _EDGE_SIDES = 240, 12
_TORN = 4.0  # a face whose uv is stretched this many times the usual spans a seam of the uv


def cloth_surface(
    name: str, vertices: Array, faces: Index, uv: Array, cloth: Cloth, normals: Array | None = None
) -> Surface:
    normals = smooth_normals(vertices, faces) if normals is None else normals
    return Surface(
        name=name,
        vertices=vertices.astype(np.float32),
        triangles=faces.astype(np.int32),
        normals=normals.astype(np.float32),
        uv=uv.astype(np.float32),
        material=cloth,
    )


def restitched(top: Surface) -> Surface:
    """The top with own vertices, and a weave of the usual size, for faces across a uv seam."""
    corners = top.vertices[top.triangles].astype(np.float64)
    flat = top.uv[top.triangles].astype(np.float64)
    side = np.linalg.norm(corners - np.roll(corners, 1, 1), axis=2).sum(1)
    stretch = np.linalg.norm(flat - np.roll(flat, 1, 1), axis=2).sum(1) / np.maximum(side, 1e-9)
    usual = float(np.median(stretch))
    torn = np.flatnonzero(stretch > _TORN * usual)
    e1, e2 = corners[torn, 1] - corners[torn, 0], corners[torn, 2] - corners[torn, 0]
    normal = unit(np.cross(e1, e2))
    x_axis = unit(np.cross([0.0, 1.0, 0.0], normal))
    y_axis = np.cross(normal, x_axis)
    laid = [np.stack([(e * x_axis).sum(1), (e * y_axis).sum(1)], 1) for e in (0 * e1, e1, e2)]
    uv = flat[torn, :1] + usual * np.stack(laid, 1)
    triangles = top.triangles.copy()
    count = len(top.vertices)
    triangles[torn] = count + np.arange(3 * len(torn)).reshape(-1, 3)
    own = top.triangles[torn].ravel()
    return Surface(
        top.name,
        np.concatenate([top.vertices, top.vertices[own]]),
        triangles,
        np.concatenate([top.normals, top.normals[own]]),
        np.concatenate([top.uv, uv.reshape(-1, 2).astype(np.float32)]),
        top.material,
    )


def opened_seam(
    vertices: Array, faces: Index, uv: Array, period: float
) -> tuple[Array, Index, Array]:
    """The same mesh with the vertices along u's wrap doubled, so that no face spans the wrap."""
    u = uv[faces, 0]
    late = (np.ptp(u, axis=1, keepdims=True) > period / 2) & (
        u < u.max(1, keepdims=True) - period / 2
    )
    doubled = np.unique(faces[late])
    renumber = np.full(len(vertices), -1)
    renumber[doubled] = len(vertices) + np.arange(len(doubled))
    opened = np.where(late, renumber[faces], faces)
    added = uv[doubled] + np.array([period, 0.0])
    return np.concatenate([vertices, vertices[doubled]]), opened, np.concatenate([uv, added])


def _longest_chain(edges: Index) -> Index:
    """Vertices of the longest closed chain of directed edges (k, 2)."""
    following = {int(a): int(b) for a, b in edges}
    chains = []
    while following:
        start = min(following)
        chain = [start]
        while (after := following.pop(chain[-1], None)) is not None and after != start:
            chain.append(after)
        chains.append(chain)
    return np.array(max(chains, key=len))


def rolled_edge(cloth: Array, normal: Array, rim: Index, material: Cloth) -> Surface:
    """The round upper edge of the neck band: a tube along the cut."""
    loop = _longest_chain(rim)
    closed = np.append(loop, loop[0])
    run = np.append(0, np.cumsum(np.linalg.norm(np.diff(cloth[closed], axis=0), axis=1)))
    even = np.linspace(0, run[-1], _EDGE_POINTS, endpoint=False)
    centre, out = (
        np.stack([np.interp(even, run, values[closed, k]) for k in range(3)], 1)
        for values in (cloth, normal)
    )
    for _ in range(8):
        centre = 0.5 * centre + 0.25 * (np.roll(centre, 1, 0) + np.roll(centre, -1, 0))
    centre = centre - 0.012 * out
    ahead = unit(np.roll(centre, -1, 0) - np.roll(centre, 1, 0))
    out = unit(out - ahead * (out * ahead).sum(1, keepdims=True))
    # The first ring and the first line exist twice, so that uv does not run back in one face.
    wide, long = _EDGE_SIDES + 1, _EDGE_POINTS + 1
    angle = np.linspace(0, 2 * np.pi, wide)[None, :, None]
    ring = out[:, None] * np.cos(angle) + np.cross(ahead, out)[:, None] * np.sin(angle)
    ring = np.concatenate([ring, ring[:1]])
    centre = np.concatenate([centre, centre[:1]])
    vertices = (centre[:, None] + _EDGE_RADIUS * ring).reshape(-1, 3)
    i, j = np.arange(_EDGE_POINTS)[:, None] * wide, np.arange(_EDGE_SIDES)[None]
    quads = np.stack([i + j, i + j + 1, i + wide + j + 1, i + wide + j], -1).reshape(-1, 4)
    u, v = np.linspace(0, 12.0, long)[:, None], np.linspace(0, 1, wide)[None]
    uv = np.stack(np.broadcast_arrays(u, v), -1).reshape(-1, 2)
    return cloth_surface("edge", vertices, triangles_of(quads), uv, material, ring.reshape(-1, 3))


def weave_relief(size: int = 256) -> Array:
    """Height (size, size) [m] of a knit, one tile."""
    y, x = np.mgrid[0:size, 0:size] / size * 2 * np.pi
    height = 0.6 * np.sin(16 * x + 0.8 * np.sin(16 * y)) + 0.4 * np.sin(32 * y)
    grain = np.random.default_rng(0).standard_normal((size, size))
    height += gaussian_filter(grain, 1.2, mode="wrap")
    return np.asarray((0.55e-4 * height).astype(np.float32))


def rib_relief() -> Array:
    """Height (8, 64) [m] of one rib of the neck band."""
    x = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    return np.tile(3.5e-4 * np.abs(np.sin(x / 2)) ** 0.7, (8, 1)).astype(np.float32)
