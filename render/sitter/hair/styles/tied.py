"""Hair drawn back smoothly from the whole hairline into a low knot."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Rng, along, bell, smoothstep, unit
from render.sitter.hair.locks import filled, flyaways, frizz, gather
from render.sitter.hair.scalp import Scalp, beyond_hairline, out_of_face, roots_on
from render.sitter.hair.strands import Comb, grow, pushed_out, resampled

# Lengths and heights [dm] were set by eye.
_GUIDES = 9_000
_KNOT = 0.33  # radius of the knot
_KNOT_HEIGHT = 0.02  # its middle over the eyes
_KNOT_SHARE = 0.16  # of the strands
_KNOT_LOCKS = 30
_POINTS = 15


def tied_back(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Combed back over the ears' tops and wound into a knot."""
    in_knot = int(count * _KNOT_SHARE)
    # The front edge has no hair before it that could cover the skin between its roots.
    edge = bell(beyond_hairline(scalp, "tied back"), 0.12, 0.13)
    front = smoothstep(-0.9, 0.0, scalp.vertices[:, 2] - scalp.eye[2])
    dense = 1 + 3.2 * edge * front
    spots, _ = roots_on(scalp, "tied back", count - in_knot, rng, dense)
    g = min(_GUIDES, len(spots.points))
    knot = _knot_middle(scalp)
    guides = _drawn_back(scalp, spots.points[:g], spots.normals[:g], knot, rng)
    strands = filled(guides, spots.points, (spots.points[:, 0] > 0).astype(int), rng)
    strands = gather(strands, max(60, len(strands) // 90), 0.40, 0.8, rng, 0.05)
    strands = frizz(strands, 0.008, 0.7, rng, 0.02)
    strands = flyaways(strands, scalp.crown - [0, 0.8, 0], 0.010, 0.10, rng)
    strands = pushed_out(scalp.outside, out_of_face(scalp, strands), 0.008)
    wound = _wound(knot, in_knot, strands.shape[1], rng)
    return np.concatenate([strands, wound])


def _knot_middle(scalp: Scalp) -> Array:
    q = scalp.vertices - scalp.eye
    behind = (np.abs(q[:, 0]) < 0.08) & (np.abs(q[:, 1] - _KNOT_HEIGHT) < 0.06)
    depth = q[behind & (q[:, 2] < -0.8), 2].min()
    return np.asarray(scalp.eye + np.array([0.0, _KNOT_HEIGHT, depth - 0.45 * _KNOT]))


def _drawn_back(scalp: Scalp, p: Array, normal: Array, knot: Array, rng: Rng) -> Array:
    count = len(p)
    up = smoothstep(0.2, 0.8, normal[:, 1])
    distance = np.linalg.norm(knot - p, axis=1)
    heading: Array = along(knot - p, normal) + (0.12 + 0.10 * up)[:, None] * normal
    heading = unit(heading + 0.03 * rng.standard_normal((count, 3)))
    layer = 0.6 * np.clip(distance / 2.2, 0, 1) + 0.4 * rng.random(count)
    # A brush leaves bands that lie a little higher and lower.
    turn = np.arctan2(p[:, 0], p[:, 1] - knot[1])
    bands = sum(np.sin(k * turn + rng.random() * 6.3) for k in (11, 19, 31))
    high = 0.012 + (0.070 + 0.085 * up) * layer + np.clip(0.008 * bands, -0.01, 0.03)
    # Strands end all over the knot, so that no furrow shows between upper and lower hair.
    aim = knot + 0.42 * _KNOT * rng.standard_normal((count, 3)) * np.array([0.6, 1.0, 0.5])
    sag = 0.22 * smoothstep(0.1, 0.6, p[:, 1] - knot[1])[:, None]

    def field(here: Array, n: Array, s: float) -> Array:
        to_knot = aim - here
        r = np.linalg.norm(to_knot, axis=1)
        far = smoothstep(0.25, 0.7, r)[:, None]
        rise = np.array([0, 0.12, 0]) * smoothstep(0.3, 0.9, r)[:, None] * (1 - sag / 0.11)
        return np.asarray(along(to_knot, n) * far + unit(to_knot) * (1 - far) + rise)

    comb = Comb(
        field,
        lambda s: 0.010 + high * smoothstep(0, 0.15, s) * (1 - 0.3 * s),
        0.50,
        0.35,
        0.02 * rng.standard_normal((count, 3)),
    )
    start = p, normal, heading
    strands = grow(scalp.outside, start, 1.30 * distance + 0.10, 22, comb)
    # Strands end inside the knot.
    inside = np.linalg.norm(strands - knot, axis=2) < 0.70 * _KNOT
    inside[:, :3] = False
    end = np.where(inside.any(1), inside.argmax(1), strands.shape[1] - 1).astype(float)
    return resampled(strands, np.maximum(end, 3), _POINTS, 1.4)


def _wound(knot: Array, count: int, points: int, rng: Rng) -> Array:
    """Strands (count, points, 3) wound round the knot in locks that cross each other."""
    axis = unit(np.array([0.0, 0.12, -1.0]))
    first = np.array([1.0, 0.0, 0.0])
    second = np.cross(axis, first)
    lock = rng.integers(0, _KNOT_LOCKS, count)
    latitude = rng.uniform(-1, 1, _KNOT_LOCKS)[lock]
    phase = (rng.random(_KNOT_LOCKS) * 2 * np.pi)[lock] + 0.25 * rng.standard_normal(count)
    tilt = rng.uniform(-0.55, 0.55, _KNOT_LOCKS)[lock]
    proud = rng.uniform(-0.06, 0.05, _KNOT_LOCKS)[lock]
    turns = rng.uniform(0.35, 0.75, count)
    # Half the locks run over the knot instead of round it and close its middle.
    over = (rng.random(_KNOT_LOCKS) < 0.5)[lock][:, None]
    lie = (rng.random(_KNOT_LOCKS) * 2 * np.pi)[lock][:, None]
    angle = phase[:, None] + 2 * np.pi * turns[:, None] * np.linspace(0, 1, points)
    drift = rng.uniform(-0.2, 0.9, _KNOT_LOCKS)[lock][:, None] * np.linspace(0, 1, points)
    up = 0.85 * latitude[:, None] + drift + 0.10 * rng.standard_normal((count, 1))
    up = np.clip(up + 0.5 * tilt[:, None] * np.sin(angle), -1.3, 1.5)
    radius = _KNOT * (1 + proud[:, None] - 0.16 * rng.random((count, 1)) ** 1.5)
    across = 0.35 + 1.75 * np.sin(angle)  # past the middle and down on the other side
    angle, up = np.where(over, lie + 0.35 * np.cos(angle), angle), np.where(over, across, up)
    ring = np.cos(angle)[..., None] * first + np.sin(angle)[..., None] * second
    shell = np.cos(up)[..., None] * ring + 0.72 * np.sin(up)[..., None] * axis
    return frizz(knot + radius[..., None] * shell, 0.010, 0.3, rng, 0.03)
