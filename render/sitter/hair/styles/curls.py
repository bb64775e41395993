"""Voluminous curls: every lock is a coil round its own axis, standing off the head."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, Rng, smoothstep, unit
from render.sitter.hair.locks import drawn_to, filled, flyaways, frizz
from render.sitter.hair.scalp import Scalp, roots_on
from render.sitter.hair.strands import Comb, grow, resampled

# Lengths [dm] were set by eye: coils about 12 mm across, one turn every 2.4 cm.
_LENGTH, _RADIUS, _TURN = 0.85, 0.062, 0.24
_LOCKS = 1100
_GUIDES = 9_000
_POINTS = 32


def curls(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Springy curls all round, shorter at the hairline."""
    spots, above = roots_on(scalp, "curls", count, rng)
    g = min(_GUIDES, count)
    seed = rng.choice(count, min(_LOCKS, count), replace=False)
    lock = np.asarray(cKDTree(spots.points[seed]).query(spots.points)[1])
    lean = 0.30 * rng.standard_normal((len(seed), 3))
    strands = _axes(scalp, (spots.points[:g], spots.normals[:g]), above[:g], lean[lock[:g]], rng)
    strands = filled(strands, spots.points, np.zeros(count, int), rng)
    strands = drawn_to(strands, seed[lock], (0.92, 0.5, 0.06), rng)
    strands = _coiled(strands, spots.normals, lock, rng)
    strands = frizz(strands, 0.008, 0.6, rng, 0.03)
    return flyaways(strands, scalp.crown - [0, 0.8, 0], 0.012, 0.12, rng)


def _axes(scalp: Scalp, roots: tuple[Array, Array], above: Array, lean: Array, rng: Rng) -> Array:
    """The middle lines that locks coil round."""
    p, normal = roots
    count = len(p)
    radial = unit(p - scalp.eye - np.array([0, 0.35, -0.75]))
    up = smoothstep(-0.2, 0.8, normal[:, 1])
    length = _LENGTH * (0.50 + 0.50 * smoothstep(0, 0.35, above)) * (0.75 + 0.35 * up)
    length *= rng.uniform(0.70, 1.12, count)
    down = np.array([0.0, -1.0, 0.0])
    # At the forehead curls rise and go back before they fall.
    edge = smoothstep(0.3, 0.0, above)[:, None]
    front = edge * smoothstep(-0.5, 0.1, p[:, 2] - scalp.eye[2])[:, None]
    back = np.array([0.0, 0.5, -0.6])
    heading = 0.75 * normal + 0.4 * radial + lean + 0.2 * (edge - front) * down + front * back
    heading = unit(heading + 0.10 * rng.standard_normal((count, 3)))

    def field(here: Array, n: Array, s: float) -> Array:
        return np.asarray(radial + 0.8 * lean + (0.30 + 0.45 * s) * down + 0.5 * front * back)

    wander = 0.05 * rng.standard_normal((count, 3))
    comb = Comb(field, lambda s: np.full(count, 0.02), 0.25, 0.0, wander)
    return grow(scalp.outside, (p, normal, heading), length, 9, comb)


def _coiled(strands: Array, normal: Array, lock: Index, rng: Rng) -> Array:
    """Strands wound round their own line; those of a lock share radius, pitch and hand."""
    n, locks = len(strands), int(lock.max()) + 1
    line = resampled(strands, np.full(n, strands.shape[1] - 1.0), _POINTS)
    line = np.asarray(line, np.float32)
    body = line[:, 1:]
    piece = np.linalg.norm(np.diff(body, axis=1), axis=2)
    run = np.concatenate([np.zeros((n, 1)), np.cumsum(piece, 1)], 1)
    tangent = unit(np.gradient(body, axis=1))
    aside = unit(np.cross(normal, np.array([0.3, 1.0, 0.2])))[:, None]
    across = unit(aside - tangent * (aside * tangent).sum(-1, keepdims=True))
    other = np.cross(tangent, across)
    hand = np.where(rng.random(locks) > 0.5, 1.0, -1.0)[lock]
    start = (rng.random(locks) * 2 * np.pi)[lock] + 0.22 * rng.standard_normal(n)
    radius = _RADIUS * rng.uniform(0.65, 1.25, locks)[lock] * rng.uniform(0.8, 1.15, n)
    turn = _TURN * rng.uniform(0.75, 1.35, locks)[lock]
    angle = ((hand * 2 * np.pi / turn)[:, None] * run + start[:, None])[..., None]
    size = (radius[:, None] * smoothstep(0.0, 0.15, run))[..., None]
    wound = body + size * (across * np.cos(angle) + other * np.sin(angle))
    return np.concatenate([line[:, :1], wound], 1)
