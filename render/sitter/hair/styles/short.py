"""Short cuts: a few millimetres all over, a crop, a receding crop, and short with a fringe."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Rng, along, bell, smoothstep, unit
from render.sitter.hair.locks import filled, flyaways, frizz, gather, shortened
from render.sitter.hair.scalp import Scalp, out_of_face, roots_on
from render.sitter.hair.strands import Comb, cut_at, grow

# Lengths and heights [dm] were set by eye.
_GUIDES = 16_000
_CLIPPED = (0.040, 0.062)  # close crop: 4 to 6 mm
_FRINGE_END = 0.335  # above the eyes: clear of the brows
_FRINGE_POINTS = 14


def _whorl(scalp: Scalp) -> Array:
    return np.asarray(scalp.crown + np.array([0.05, 0, -0.1]))


def _swirled(scalp: Scalp, p: Array, normal: Array, rng: Rng) -> tuple[Array, Array]:
    """Headings (n, 3) away from the crown with a turn round it, and how near (n,) the crown is."""
    centre = _whorl(scalp)
    away = along(p - centre, normal)
    whorl = bell(np.linalg.norm(p - centre, axis=1), 0.0, 0.28)
    swirl = 0.9 * np.cross(normal, away) + 0.45 * rng.standard_normal(p.shape)
    return unit(away + whorl[:, None] * swirl), whorl


def close_crop(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Clipped to a few millimetres all over, standing half off the skin."""
    spots, above = roots_on(scalp, "close crop", count, rng)
    p, normal = spots.points, spots.normals
    flow, _ = _swirled(scalp, p, normal, rng)
    stand = rng.uniform(0.55, 1.15, count)[:, None]
    heading = unit(flow + stand * normal + 0.22 * rng.standard_normal((count, 3)))
    edge = 0.55 + 0.45 * smoothstep(-0.02, 0.16, above)
    length = rng.uniform(*_CLIPPED, count) * edge
    run = np.linspace(0, 1, 4)[None, :, None] * length[:, None, None]
    lean = 0.35 * (flow - 0.3 * normal)[:, None] * run**2 / _CLIPPED[1]
    body = p[:, None] + heading[:, None] * run + lean
    return np.concatenate([p[:, None] - 0.008 * normal[:, None], body], 1)


def crop(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Short sides, a longer top brushed forward and to one side."""
    return _cropped(scalp, "crop", count, rng, (0.17, 0.34), None)


def receding(scalp: Scalp, count: int, rng: Rng) -> Array:
    """A crop that is thin on top and has gone back over the temples."""
    height = scalp.vertices[:, 1] - scalp.eye[1]
    top = smoothstep(0.74, 0.98, height)
    return _cropped(scalp, "receding", count, rng, (0.16, 0.26), 1 - 0.72 * top)


def _cropped(
    scalp: Scalp,
    style: str,
    count: int,
    rng: Rng,
    lengths: tuple[float, float],
    dense: Array | None,
) -> Array:
    spots, above = roots_on(scalp, style, count, rng, dense)
    g = min(_GUIDES, count)
    p, normal, above = spots.points[:g], spots.normals[:g], above[:g]
    q = p - scalp.eye
    top = smoothstep(0.30, 0.80, normal[:, 1] + 0.10 * (q[:, 2] > -0.3))
    edge = 0.42 + 0.58 * smoothstep(-0.02, 0.20, above)
    length = (lengths[0] + (lengths[1] - lengths[0]) * top) * edge * rng.uniform(0.70, 1.08, g)
    length *= np.where(q[:, 1] < -0.3, 0.7, 1)
    flow, lift, front = _crop_flow(scalp, p, normal, (above, top), rng)
    heading: Array = flow + normal * (lift + 0.1 * rng.standard_normal(g))[:, None]
    heading = unit(heading + 0.10 * rng.standard_normal((g, 3)))
    high = (0.02 + 0.06 * top + 0.05 * front) * rng.random(g)

    def field(here: Array, n: Array, s: float) -> Array:
        return np.asarray(along(flow, n) + np.array([0, -0.35 * s, 0]))

    wander = 0.10 * rng.standard_normal((g, 3))
    comb = Comb(field, lambda s: 0.008 + high * s, 0.22, 0.10, wander)
    strands = grow(scalp.outside, (p, normal, heading), length, 6, comb)
    strands = filled(strands, spots.points, np.zeros(count, int), rng)
    strands = shortened(strands, rng.uniform(0.72, 1.0, count))
    strands = gather(strands, max(40, count // 26), 0.42, 1.4, rng, 0.15)
    strands = gather(strands, max(40, count // 160), 0.25, 1.6, rng, 0.15)
    strands = frizz(strands, 0.010, 1.0, rng, 0.03)
    return flyaways(strands, scalp.crown - [0, 0.9, 0], 0.012, 0.07, rng)


def _crop_flow(
    scalp: Scalp, p: Array, normal: Array, zones: tuple[Array, Array], rng: Rng
) -> tuple[Array, Array, Array]:
    """Headings (n, 3), lift (n,) off the skin and share (n,) of the brushed-up front."""
    above, top = zones
    q = p - scalp.eye
    front = smoothstep(0.45, 0.0, above) * smoothstep(-0.5, 0.1, q[:, 2])
    front = front * smoothstep(0.45, 0.62, q[:, 1])
    flow, whorl = _swirled(scalp, p, normal, rng)
    sideways = along(np.tile([1.0, 0.1, 0.15], (len(p), 1)), normal)
    share = np.clip(1 - 0.35 * top - 0.35 * front, 0.15, None)[:, None]
    combed: Array = flow * share + sideways * (0.22 * top + 0.50 * front)[:, None]
    combed = unit(combed + np.array([0, 1.0, 0]) * (0.5 * front)[:, None])
    return combed, 0.26 + 0.25 * top + 0.30 * front + 0.4 * whorl, front


def fringe(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Short at nape and sides, with a soft fringe over the forehead."""
    dense = 1 + 1.2 * bell(np.linalg.norm(scalp.vertices - _whorl(scalp), axis=1), 0.0, 0.14)
    spots, _ = roots_on(scalp, "fringe", count, rng, dense)
    g = min(_GUIDES, count)
    p, normal = spots.points[:g], spots.normals[:g]
    flow, whorl = _swirled(scalp, p, normal, rng)
    q = p - scalp.eye
    ahead = smoothstep(-0.95, -0.35, q[:, 2]) * smoothstep(0.35, 0.7, q[:, 1])
    # The top is swept forward and slightly to one side.
    swept = along(np.tile([-0.45, -0.15, 1.0], (g, 1)), normal)
    flow = unit(flow * (1 - 0.75 * ahead)[:, None] + swept * (0.85 * ahead)[:, None])
    layer = rng.random(g)
    up = smoothstep(0.1, 0.8, normal[:, 1])
    heading = unit(flow + (0.22 + 0.16 * up + 0.2 * whorl)[:, None] * normal)
    heading = unit(heading + 0.07 * rng.standard_normal((g, 3)))
    high = 0.012 + (0.045 + 0.06 * up * (1 - 0.75 * ahead)) * layer**1.2
    down = np.tile([0.0, -1.0, 0.0], (g, 1))

    def field(here: Array, n: Array, s: float) -> Array:
        low = smoothstep(0.98, 0.55, here[:, 1] - scalp.eye[1])[:, None]
        hanging = along(down + 1e-3, n) + 0.35 * down
        return np.asarray(along(flow, n) * (1 - 0.85 * low) + hanging * (0.2 * s + 0.9 * low))

    comb = Comb(
        field,
        lambda s: 0.010 + high * smoothstep(0, 0.25, s) * (1 - 0.5 * s),
        0.46,
        0.50,
        0.09 * rng.standard_normal((g, 3)),
    )
    length = (0.62 + 0.75 * ahead + 0.25 * up) * rng.uniform(0.62, 1.0, g)
    strands = grow(scalp.outside, (p, normal, heading), length, 15, comb)
    strands = filled(strands, spots.points, np.zeros(count, int), rng)
    strands = cut_at(strands, _fringe_ends(scalp, strands, rng), _FRINGE_POINTS)
    strands = shortened(strands, 1 - 0.4 * rng.beta(0.7, 3.0, count))
    strands = gather(strands, max(60, count // 330), 0.66, 1.5, rng, 0.10)
    strands = gather(strands, max(30, count // 30), 0.50, 1.2, rng, 0.10)
    strands = frizz(strands, 0.016, 1.0, rng, 0.05)
    strands = flyaways(strands, scalp.crown - [0, 0.9, 0], 0.02, 0.12, rng)
    return out_of_face(scalp, strands)


def _fringe_ends(scalp: Scalp, strands: Array, rng: Rng) -> Array:
    """Height (n,) [dm] where each strand is cut, by where it ends round the head."""
    q = strands[:, -1] - scalp.eye
    azimuth = np.degrees(np.arctan2(np.abs(q[:, 0]), q[:, 2] + 0.75))
    level = np.interp(azimuth, [0, 25, 42, 60, 85, 110, 180], [0, 0.02, 0, -0.22, -0.38, -0.7, -1])
    turn = np.arctan2(q[:, 0], q[:, 2] + 0.75)
    uneven = sum(0.016 * np.sin(k * turn + rng.random() * 6.3) for k in (9, 17, 31, 53))
    own = 0.24 * rng.beta(1, 2.2, len(q)) * np.where(azimuth < 50, 1, 1.5)
    return np.asarray(scalp.eye[1] + _FRINGE_END + level + np.abs(uneven) + own)
