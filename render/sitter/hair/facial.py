"""Lashes and eyebrows as short strands on the lids and the brow ridge."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Rng, along, smoothstep, unit
from render.sitter.cast import Brows
from render.sitter.hair.roots import Outside, scatter
from render.sitter.hair.strands import leant_out
from render.sitter.shape.bust import Bust
from render.sitter.shape.head_data import HeadData
from render.sitter.shape.regions import Regions, brow_spine

Grown = tuple[Array, Array]  # points (n, k, 3) and radii (n, k), decimetres
_UPPER, _LOWER = 95, 48  # lashes per lid; anatomy gives 90-150 and 70-80, from memory
_STEPS = 5
_CLEAR = 0.003  # [dm] that lower lashes keep over the cheek; set by eye
_SOCKET = -0.75  # the skin behind the upper lid faces down more than this; set by eye
_BROW_HAIRS = 560  # per brow at density 1; set by eye


def _tapered(count: int, points: int, radius: float | Array) -> Array:
    taper = 1 - 0.75 * np.linspace(0, 1, points) ** 1.6
    return np.broadcast_to(np.asarray(radius), (count, 1)) * taper


def lashes(head: HeadData, vertices: Array, outside: Outside, rng: Rng) -> Grown:
    """Upper and lower lashes of both eyes from the base mesh's lash strips."""
    points, radii = [], []
    for strip in head.lashes:
        side = 1.0 if strip[0] == "l" else -1.0
        upper = strip.endswith("upper")
        grown = _lid(_at_rim(head, vertices, strip), side, upper, rng)
        if not upper:  # raised cheeks would swallow them
            grown = leant_out(outside, grown, _CLEAR)
        points.append(grown)
        thick = 0.00062 if upper else 0.00045
        radii.append(_tapered(len(grown), grown.shape[1], thick))
    return np.concatenate(points), np.concatenate(radii)


def _at_rim(head: HeadData, vertices: Array, name: str) -> Array:
    """A lash strip (columns, 5, 3) that keeps to its lid's rim whatever the cheeks do."""
    ids, rim = head.lashes[name], head.lids[name[0]][:, 0]
    root, edge = head.vertices[ids[:, 0]], head.vertices[rim]
    nearest = rim[((root[:, None] - edge) ** 2).sum(-1).argmin(1)]
    kept = vertices[nearest] + root - head.vertices[nearest]
    return np.asarray(vertices[ids] + (kept - vertices[ids[:, 0]])[:, None])


def _lid(strip: Array, side: float, upper: bool, rng: Rng) -> Array:
    """Lashes (n, k, 3) of one lid; strip (columns, 5, 3), column 0 at the lid."""
    count, columns = (_UPPER if upper else _LOWER), len(strip)
    t = np.sort(rng.random(count)) * (columns - 1) * 0.97 + 0.015 * (columns - 1)
    i = np.minimum(t.astype(int), columns - 2)
    f = (t - i)[:, None, None]
    line = strip[i] * (1 - f) + strip[i + 1] * f
    root = 0.5 * (line[:, 1] + line[:, 2])
    place = t / (columns - 1)
    longest = 0.45 + 0.55 * np.sin(np.pi * np.clip(place * 0.80 + 0.18, 0, 1))
    length = (0.082 if upper else 0.044) * longest * rng.uniform(0.75, 1.1, count)
    sign = 1.0 if upper else -1.0
    fan = (place - 0.42)[:, None] * np.array([side, 0.0, 0.0])
    heading = unit(line[:, 4] - line[:, 2]) + 0.55 * fan + np.array([0, -0.25 * sign, 0.45])
    heading = unit(heading + 0.10 * rng.standard_normal((count, 3)))
    curl = np.array([0, sign, -0.15]) * (1.15 if upper else 0.55)
    points, here = [root - heading * 0.02], root.copy()
    for _ in range(_STEPS + 1):
        points.append(here.copy())
        here = here + heading * (length / _STEPS)[:, None]
        heading = unit(heading + curl / _STEPS)
    return np.stack(points, 1)


def brows(bust: Bust, regions: Regions, skin: tuple[Array, Array], cut: Brows, rng: Rng) -> Grown:
    """Eyebrow hairs; skin is the sitter's vertices and normals (n, 3) [dm]."""
    count = int(2 * _BROW_HAIRS * cut.density)
    mask = regions.masks["brow_flat" if cut.flat else "brow"]
    weight = np.where(mask > 0.12, np.minimum(mask, 0.8) ** 1.15, 0)
    weight *= skin[1][:, 1] > _SOCKET  # not on the skin behind the upper lid
    spots = scatter(bust.quads, skin, weight, count, rng)
    normal = spots.normals
    on_reference = spots.carry(bust.reference)
    x, side = np.abs(on_reference[:, 0]), np.sign(on_reference[:, 0])
    spine, half = brow_spine(x, cut.flat)
    across = np.clip((on_reference[:, 1] - regions.eye_line[1] - spine) / half, -1, 1)
    t = np.clip((x - 0.13) / 0.45, 0, 1)
    degrees = (78, 50, 26, 8, -18) if cut.flat else (86, 62, 34, 12, -20)
    angle = np.interp(t, [0, 0.12, 0.3, 0.6, 1], degrees)
    # Hairs of the upper and the lower edge lean towards the middle line of the brow.
    angle = angle - 22 * across * smoothstep(0.05, 0.35, t) + 9 * rng.standard_normal(count)
    angle = np.radians(angle)
    flat = np.stack([side * np.cos(angle), np.sin(angle), np.zeros(count)], 1)
    heading = unit(along(flat, normal) + 0.30 * normal)
    length = np.interp(t, [0, 0.25, 0.7, 1], [0.062, 0.088, 0.080, 0.052])
    length = length * rng.uniform(0.65, 1.15, count) * cut.length
    droop = np.stack([0.35 * side, -0.28 * smoothstep(0.1, 0.5, t), np.zeros(count)], 1)
    points, here = [spots.points - 0.006 * normal], spots.points.copy()
    for _ in range(_STEPS + 1):
        points.append(here.copy())
        here = here + heading * (length / _STEPS)[:, None]
        heading = unit(heading - 0.13 * normal + 0.10 * droop)
    radius = 0.00042 * cut.thickness * rng.uniform(0.8, 1.2, (count, 1))
    return np.stack(points, 1), _tapered(count, _STEPS + 2, radius)
