"""A crew-neck top: the body surface lifted and smoothed, folded, cut at the neck, ribbed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.ndimage import gaussian_filter

from render.sitter.arrays import M_PER_DM, Array, Index, Mask, bell, unit
from render.sitter.body import Cloth, Surface
from render.sitter.bust import Bust
from render.sitter.folds import folds
from render.sitter.surfaces import (
    cut_below,
    neighbour_mean,
    open_vertices,
    smooth_normals,
    triangles_of,
)

# All lengths here in decimetres, set by eye on the reference head.
EASE = 0.055  # distance of the cloth from the body
_TOP = 6.55  # nothing of the top is ever higher than this on the reference head
_BAND = 0.20  # width of the ribbed neck band
_BAND_THICKNESS = 0.020
_RIBS = 150  # ribs round the neck
_EDGE_RADIUS = 0.024  # rolled upper edge of the band
_EDGE_POINTS, _EDGE_SIDES = 240, 12
_LEAST_GAP = 0.022  # cloth never comes closer to the skin


@dataclass(frozen=True, slots=True, eq=False)
class _Shell:
    """The uncut top on the body's triangles."""

    cloth: Array  # (n, 3)
    normals: Array  # (n, 3) smooth body normals
    triangles: Index
    uv: Array
    reference: Array
    mean: sp.csr_matrix


def neckline_height(reference: Array) -> Array:
    """Height (n,) of a crew neck at points of the reference head (n, 3) [dm]."""
    x, _, z = reference.T
    return np.asarray(5.58 + 0.25 * (0.78 - z) + 0.95 * np.abs(x) ** 2.2)


def _shell(bust: Bust, skin: tuple[Array, Array], seed: int) -> _Shell:
    triangles = triangles_of(bust.quads)
    triangles = triangles[bust.reference[triangles, 1].max(1) < _TOP]
    ids, inverse = np.unique(triangles, return_inverse=True)
    triangles = inverse.reshape(-1, 3)
    reference, body, body_normal = bust.reference[ids], skin[0][ids], skin[1][ids]
    mean = neighbour_mean(triangles, len(ids))
    free = ~open_vertices(triangles, len(ids))[:, None]
    normal = body_normal
    for _ in range(12):
        normal = mean @ normal
    normal = unit(normal)
    drape = _bridge(body, normal, mean, free)
    neck = reference[:, 1] - neckline_height(reference)
    # Near the neck the cloth stays close to the body and unfolded.
    tight = np.exp(-0.5 * (np.clip(-neck, 0, 9) / 0.5) ** 2)
    for _ in range(14):
        drape = drape + 0.6 * free * (mean @ drape - drape)
        gap = ((drape - body) * body_normal).sum(1)
        least = EASE * (0.32 + 0.10 * tight)
        drape = drape + body_normal * np.maximum(least - gap, 0)[:, None]
    drape = drape + normal * (folds(reference, seed) * (1 - tight))[:, None]
    for _ in range(2):
        drape = drape + 0.5 * free * (mean @ drape - drape)
        gap = ((drape - body) * body_normal).sum(1)
        drape = drape + body_normal * np.maximum(_LEAST_GAP - gap, 0)[:, None]
    # The fold between arm and chest is a soft roll, not a crease.
    pit = bell(np.abs(reference[:, 0]), 1.42, 0.24) * bell(reference[:, 1], 4.25, 0.65)
    for _ in range(45):
        drape = drape + 0.8 * pit[:, None] * free * (mean @ drape - drape)
    return _Shell(drape, normal, triangles, bust.cloth_uv[ids], reference, mean)


def _bridge(body: Array, normal: Array, mean: sp.csr_matrix, free: Mask | Array) -> Array:
    """Cloth that spans the body's small hollows: smoothed body, lifted over what sticks out."""
    smooth = body.copy()
    for _ in range(180):
        smooth = smooth + 0.7 * free * (mean @ smooth - smooth)
    proud = np.maximum(((body - smooth) * normal).sum(1), 0)
    linked = sp.csr_matrix((mean > 0).astype(float))
    for _ in range(3):
        neighbours = linked.multiply(proud[None, :]).max(1).toarray().ravel()
        proud = np.maximum(proud, neighbours)
    for _ in range(14):
        proud = 0.4 * proud + 0.6 * (mean @ proud)
    return np.asarray(smooth + normal * (EASE + proud)[:, None])


def _surface_distance(shell: _Shell, field: Array) -> Array:
    """Distance (n,) along the cloth to the zero line of a field, negative where it is."""
    t, q = shell.triangles, shell.cloth
    e1, e2 = q[t[:, 1]] - q[t[:, 0]], q[t[:, 2]] - q[t[:, 0]]
    d1, d2 = field[t[:, 1]] - field[t[:, 0]], field[t[:, 2]] - field[t[:, 0]]
    a, b, c = (e1 * e1).sum(1), (e1 * e2).sum(1), (e2 * e2).sum(1)
    slope = (d1 * d1 * c - 2 * d1 * d2 * b + d2 * d2 * a) / np.maximum(a * c - b * b, 1e-12)
    slope = np.sqrt(np.maximum(slope, 0))
    total = np.bincount(t.ravel(), np.repeat(slope, 3), len(q))
    steep = total / np.maximum(np.bincount(t.ravel(), minlength=len(q)), 1)
    for _ in range(10):
        steep = 0.3 * steep + 0.7 * (shell.mean @ steep)
    return np.asarray(field / np.maximum(steep, 0.25))


def crew_top(
    bust: Bust, skin: tuple[Array, Array], colour: tuple[float, float, float], seed: int
) -> tuple[tuple[Surface, ...], tuple[Array, Array]]:
    """Top, ribbed band and rolled edge, in decimetres, and points with normals of the cloth.

    skin : the sitter's vertices and normals (n, 3)
    """
    shell = _shell(bust, skin, seed)
    neck = _surface_distance(shell, shell.reference[:, 1] - neckline_height(shell.reference))
    whole, faces, rim = cut_below(shell.cloth, shell.triangles, neck)
    cloth, distance = whole @ shell.cloth, whole @ neck
    normal, reference, uv = whole @ shell.normals, whole @ shell.reference, whole @ shell.uv
    lower, lower_faces, _ = cut_below(cloth, faces, distance + 0.93 * _BAND)
    weave = Cloth(colour, 0.85, 0.5, _weave(), 22.0)
    top = _surface("top", lower @ cloth, lower_faces, lower @ uv, weave)

    upper, band_faces, _ = cut_below(cloth, faces, -(distance + _BAND))
    t = np.clip(-(upper @ distance) / _BAND, 0, 1)
    round_off = np.clip(np.sin(np.pi * np.clip(0.96 * t + 0.04, 0, 1)), 0, 1) ** 0.35
    lift = _BAND_THICKNESS * round_off - 0.012 * (t > 0.97)
    band_points = upper @ cloth + (upper @ normal) * lift[:, None]
    around = upper @ reference
    turn = np.arctan2(around[:, 0], around[:, 2] - 0.25) / (2 * np.pi)
    ribbed = Cloth(colour, 0.85, 0.5, _ribs(), 1.0)
    band_normals = smooth_normals(band_points, band_faces)
    mesh = _opened_seam(
        np.hstack([band_points, band_normals]), band_faces, np.stack([turn * _RIBS, t], 1), _RIBS
    )
    band = _surface("band", mesh[0][:, :3], mesh[1], mesh[2], ribbed, mesh[0][:, 3:])
    edge = _rolled_edge(cloth, normal, rim, Cloth(colour, 0.85, 0.5, _weave(), 1.0))
    return (top, band, edge), (cloth, smooth_normals(cloth, faces))


def _surface(
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


def _rolled_edge(cloth: Array, normal: Array, rim: Index, material: Cloth) -> Surface:
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
    return _surface("edge", vertices, triangles_of(quads), uv, material, ring.reshape(-1, 3))


def _opened_seam(
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


def _weave(size: int = 256) -> Array:
    """Height (size, size) [m] of a knit, one tile."""
    y, x = np.mgrid[0:size, 0:size] / size * 2 * np.pi
    height = 0.6 * np.sin(16 * x + 0.8 * np.sin(16 * y)) + 0.4 * np.sin(32 * y)
    grain = np.random.default_rng(0).standard_normal((size, size))
    height += gaussian_filter(grain, 1.2, mode="wrap")
    return np.asarray((0.55e-4 * height).astype(np.float32))


def _ribs() -> Array:
    """Height (8, 64) [m] of one rib of the neck band."""
    x = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    return np.tile(3.5e-4 * np.abs(np.sin(x / 2)) ** 0.7, (8, 1)).astype(np.float32)


def in_metres(surface: Surface, origin: Array) -> Surface:
    """A surface in decimetres moved to an origin (3,) [dm] and scaled to metres."""
    vertices = (surface.vertices - origin) * M_PER_DM
    return Surface(
        surface.name,
        vertices.astype(np.float32),
        surface.triangles,
        surface.normals,
        surface.uv,
        surface.material,
    )
