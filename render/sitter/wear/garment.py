"""A crew-neck top: the body surface lifted and smoothed, folded, cut at the neck, ribbed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from render.sitter.arrays import M_PER_DM, Array, Index, Mask, bell, smoothstep, unit
from render.sitter.body import Cloth, Surface
from render.sitter.shape.bust import Bust
from render.sitter.shape.surfaces import (
    cut_below,
    neighbour_mean,
    open_vertices,
    smooth_normals,
    triangles_of,
)
from render.sitter.wear.folds import folds
from render.sitter.wear.trim import (
    cloth_surface,
    opened_seam,
    restitched,
    rib_relief,
    rolled_edge,
    weave_relief,
)

# All lengths here in decimetres, set by eye on the reference head.
EASE = 0.055  # distance of the cloth from the body
_TOP = 6.55  # nothing of the top is ever higher than this on the reference head
_BAND = 0.20  # width of the ribbed neck band
_BAND_THICKNESS = 0.020
_RIBS = 150  # ribs round the neck
_CHEST_EASE = 0.12  # further ease over the chest
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
    # The fold between arm and chest is a soft roll, and the chest hangs plain.
    pit = bell(np.abs(reference[:, 0]), 1.42, 0.24) * bell(reference[:, 1], 4.25, 0.65)
    chest = smoothstep(5.1, 4.3, reference[:, 1]) * smoothstep(1.55, 1.1, np.abs(reference[:, 0]))
    chest = chest * smoothstep(0.2, 0.6, reference[:, 2])
    drape = drape + normal * (_CHEST_EASE * chest)[:, None]
    plain = np.maximum(np.maximum(pit, chest), 1 - tight)[:, None]
    for _ in range(70):
        drape = drape + 0.8 * plain * free * (mean @ drape - drape)
    gap = ((drape - body) * body_normal).sum(1)
    drape = drape + body_normal * np.maximum(_LEAST_GAP - gap, 0)[:, None]
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
    weave = Cloth(colour, 0.85, 0.5, weave_relief(), 22.0)
    top = restitched(cloth_surface("top", lower @ cloth, lower_faces, lower @ uv, weave))

    upper, band_faces, _ = cut_below(cloth, faces, -(distance + _BAND))
    t = np.clip(-(upper @ distance) / _BAND, 0, 1)
    round_off = np.clip(np.sin(np.pi * np.clip(0.96 * t + 0.04, 0, 1)), 0, 1) ** 0.35
    lift = _BAND_THICKNESS * round_off - 0.012 * (t > 0.97)
    band_points = upper @ cloth + (upper @ normal) * lift[:, None]
    around = upper @ reference
    turn = np.arctan2(around[:, 0], around[:, 2] - 0.25) / (2 * np.pi)
    ribbed = Cloth(colour, 0.85, 0.5, rib_relief(), 1.0)
    band_normals = smooth_normals(band_points, band_faces)
    mesh = opened_seam(
        np.hstack([band_points, band_normals]), band_faces, np.stack([turn * _RIBS, t], 1), _RIBS
    )
    band = cloth_surface("band", mesh[0][:, :3], mesh[1], mesh[2], ribbed, mesh[0][:, 3:])
    edge = rolled_edge(cloth, normal, rim, Cloth(colour, 0.85, 0.5, weave_relief(), 1.0))
    return (top, band, edge), (cloth, smooth_normals(cloth, faces))


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
