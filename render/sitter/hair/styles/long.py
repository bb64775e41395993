"""Straight hair with a parting: a jaw-length bob, and long hair that falls over the shoulders."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Index, Rng, along, bell, smoothstep, unit
from render.sitter.hair.locks import filled, flyaways, frizz, gather, shortened, wave
from render.sitter.hair.scalp import Scalp, out_of_face, roots_on
from render.sitter.hair.strands import Clearance, Comb, Field, cut_at, grow, pushed_out, taut
from render.sitter.hair.styles.parting import denser_at_parting, parting, pressed

# Lengths and heights [dm] were set by eye.
_DOWN = np.array([0.0, -1.0, 0.0])
_GUIDES = 7_000
_BOB_PART_X, _LONG_PART_X = 0.16, 0.07  # the parting lies to the sitter's left
_BOB_CUT = -0.92  # below the eyes: just under the jaw
_LONG_CUT = -2.75  # below the eyes: on the chest
_BOB_POINTS, _LONG_POINTS = 16, 25
_BOB_LIFT, _LONG_LIFT = 0.22, 0.12  # of hair on top; its weight pulls long hair flat
_LIFT_FROM, _LIFT_FULL = 0.66, 1.02  # by its roots' height over the eyes
_BOB_RISE, _LONG_RISE = 1.2, 0.6  # of first headings beside the parting: no valley is left there
_BOB_COVER, _LONG_COVER = 0.135, 0.10  # thickest that hair lies over the top of the skull


def bob(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Jaw-length straight hair with a side parting, turned in at the ends."""
    dense = denser_at_parting(scalp, _BOB_PART_X, rng)
    spots, above = roots_on(scalp, "bob", count, rng, dense)
    g = min(_GUIDES, count)
    from_part, side = parting(scalp, spots.points, _BOB_PART_X, rng)
    p = spots.points[:g]
    flow, late, on_side = _partings_flow(scalp, p, from_part[:g], side[:g])
    start = _start(p, spots.normals[:g], flow, from_part[:g], rng, _BOB_RISE)
    comb = Comb(
        field=_falling(scalp.eye, flow, on_side, late, 0.85),
        clearance=_lifted(scalp, p, from_part[:g], _BOB_LIFT, rng),
        stiffness=0.42,
        hold=0.26,
        wander=0.025 * rng.standard_normal((g, 3)),
        loose_below=scalp.eye[1] - 0.25,
    )
    strands = grow(scalp.outside, start, np.full(g, 3.0), 22, comb)
    strands = taut(scalp.outside, strands, 7, 0.02)
    strands = filled(strands, spots.points, _sides(scalp, spots.points, side), rng)
    strands = cut_at(
        strands,
        _ends(scalp, spots.points, _BOB_CUT, 0.40, rng) + _graduated(scalp, spots.points),
        _BOB_POINTS,
    )
    strands = _layered(strands, above, 0.35, rng)
    strands = _in_locks(strands, 0.028, 1.35, rng)
    strands = pressed(scalp, strands, _BOB_PART_X, _BOB_COVER)
    strands = flyaways(strands, scalp.crown - [0, 1.0, 0], 0.030, 0.17, rng)
    return out_of_face(scalp, strands)


def long(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Straight hair parted near the middle, before and behind the shoulders."""
    dense = denser_at_parting(scalp, _LONG_PART_X, rng)
    spots, above = roots_on(scalp, "long", count, rng, dense)
    g = min(_GUIDES, count)
    from_part, side = parting(scalp, spots.points, _LONG_PART_X, rng)
    p = spots.points[:g]
    flow, late, on_side = _partings_flow(scalp, p, from_part[:g], side[:g])
    start = _start(p, spots.normals[:g], flow, from_part[:g], rng, _LONG_RISE)
    q = p - scalp.eye
    # Hair from before the ears falls over the chest, the rest down the back.
    before = np.where(q[:, 2] + 0.22 * rng.standard_normal(g) > -0.62, 1.0, -1.0)
    comb = Comb(
        field=_over_shoulders(_falling(scalp.eye, flow, on_side, late, 0.05), scalp, before),
        clearance=_lifted(scalp, p, from_part[:g], _LONG_LIFT, rng),
        stiffness=0.40,
        hold=0.24,
        wander=0.030 * rng.standard_normal((g, 3)),
        loose_below=scalp.eye[1] - 0.25,
    )
    strands = grow(scalp.outside, start, np.full(g, 4.9), 34, comb)
    strands = taut(scalp.outside, strands, 21, 0.02)
    strands = filled(strands, spots.points, _sides(scalp, spots.points, side), rng)
    ends = _ends(scalp, spots.points, _LONG_CUT, 0.55, rng)
    strands = cut_at(strands, ends, _LONG_POINTS, 1.35)
    strands = _layered(strands, above, 0.30, rng)
    strands = _in_locks(strands, 0.030, 1.7, rng)
    strands = pressed(scalp, strands, _LONG_PART_X, _LONG_COVER)
    strands = flyaways(strands, scalp.crown - [0, 1.0, 0], 0.018, 0.20, rng)
    strands = out_of_face(scalp, strands)
    # Pieces 2 cm long cut across a rounded shoulder unless their ends keep off it.
    return pushed_out(scalp.outside, strands, 0.04, first=9)


def _sides(scalp: Scalp, p: Array, side: Array) -> Index:
    """Group (n,) of each strand: left, right, and the back where no parting divides the hair."""
    behind = p[:, 2] < scalp.crown[2] - 0.15
    return np.asarray(np.where(behind, 2, np.where(side > 0, 1, 0)))


def _start(
    p: Array, normal: Array, flow: Array, from_part: Array, rng: Rng, rise: float
) -> tuple[Array, Array, Array]:
    """Roots, normals and first headings (n, 3), which rise more beside the parting."""
    lift = 0.16 + rise * smoothstep(0.35, 0.0, np.linalg.norm(from_part, axis=1))
    heading = along(flow, normal) + normal * lift[:, None]
    return p, normal, unit(heading + 0.05 * rng.standard_normal(p.shape))


def _partings_flow(
    scalp: Scalp, p: Array, from_part: Array, side: Array
) -> tuple[Array, Array, Array]:
    """Headings (n, 3) away from the parting, how long (n,) they last, and side of the head (n,)."""
    eye, zero = scalp.eye, np.zeros(len(p))
    behind = smoothstep(0.0, -0.5, p[:, 2] - scalp.crown[2])
    lateral = np.stack([side, zero, zero], 1)
    flow = unit(from_part) * 0.55 + lateral * (0.9 * (1 - behind))[:, None]
    front = smoothstep(-0.6, 0.25, p[:, 2] - eye[2])
    flow = unit(flow + np.array([0, 0, -0.95]) * front[:, None])
    # Hair that grows low on the sides and the nape hangs at once.
    late = 0.15 + 0.85 * smoothstep(0.10, 0.75, p[:, 1] - eye[1])
    flow = unit(flow * late[:, None] + _DOWN * (1 - late)[:, None])
    on_side = np.where(np.abs(p[:, 0]) > 0.12, np.sign(p[:, 0]), side)
    return flow, late, on_side


def _layers(scalp: Scalp, p: Array, from_part: Array, rng: Rng) -> Clearance:
    """Wanted height over the skin: thicker cover away from the parting and over the ears."""
    reach = np.linalg.norm(from_part, axis=1)
    # The cover thickens slowly away from the parting: no ridge on either side of it.
    thick = smoothstep(-0.15, 0.85, reach)
    layer = 0.62 * np.clip(1 - reach / 1.7, 0, 1) * thick + 0.38 * rng.random(len(p))
    # Beside the ears hair stands off as far as the ears do, so that they do not show as bumps.
    azimuth = np.arctan2(np.abs(p[:, 0]), p[:, 2] - scalp.eye[2] + 0.75)
    high = 0.020 + 0.080 * layer**1.2 + 0.036 * bell(azimuth, np.radians(95), np.radians(32))
    return lambda s: 0.012 + high * smoothstep(0, 0.16, s)


def _lifted(scalp: Scalp, p: Array, from_part: Array, most: float, rng: Rng) -> Clearance:
    """The same, but on top hair stands up from its roots before it falls."""
    lies = _layers(scalp, p, from_part, rng)
    up = smoothstep(_LIFT_FROM, _LIFT_FULL, p[:, 1] - scalp.eye[1])
    lift = most * up * (0.8 + 0.2 * smoothstep(0.0, 0.55, np.linalg.norm(from_part, axis=1)))
    lift = lift * (0.45 + 0.55 * rng.random(len(p)))
    return lambda s: lies(s) + lift * smoothstep(0, 0.06, s) * smoothstep(0.40, 0.12, s)


def _falling(eye: Array, flow: Array, on_side: Array, late: Array, inward: float) -> Field:
    """Headings away from the parting, down over the ear and, for a bob, in at the jaw."""
    count = len(flow)

    def field(here: Array, n: Array, s: float) -> Array:
        fall = smoothstep(0.10 * late, 0.42 * late, s)[:, None]
        q = here - eye
        hanging = along(np.tile(_DOWN + 1e-3, (count, 1)), n)
        target = along(flow, n) * (1 - fall) + hanging * fall
        # Below the ear nothing carries the hair any more.
        free = smoothstep(-0.05, -0.55, q[:, 1])[:, None]
        target = target * (1 - 0.8 * free) + _DOWN * free
        to_neck = -np.stack([q[:, 0], 0 * q[:, 1], q[:, 2] + 0.75], 1)
        target = target + unit(to_neck) * (inward * smoothstep(-0.1, -0.85, q[:, 1]))[:, None]
        # Over the temples the hair keeps out of the face.
        ahead = smoothstep(-0.30, 0.1, q[:, 2]) * smoothstep(0.75, 0.3, q[:, 1])
        ahead = ahead * smoothstep(-1.2, -0.9, q[:, 1])
        sweep = np.stack([0.20 * on_side, 0 * on_side, np.full(count, -0.50)], 1)
        return np.asarray(target + ahead[:, None] * sweep)

    return field


def _over_shoulders(falling: Field, scalp: Scalp, before: Array) -> Field:
    """The same, passing the shoulder's ridge before (+1) or behind (-1)."""

    def field(here: Array, n: Array, s: float) -> Array:
        target = falling(here, n, s)
        y = here[:, 1] - scalp.eye[1]
        on_ridge = smoothstep(-0.55, -1.1, y) * smoothstep(-2.4, -1.9, y)
        inward = -0.12 * np.sign(here[:, 0]) * smoothstep(-0.6, -1.2, y)
        steer = np.stack([inward, 0 * y, 0.42 * before * on_ridge], 1)
        return np.asarray(target + steer)

    return field


def _ends(scalp: Scalp, p: Array, level: float, ragged: float, rng: Rng) -> Array:
    """Height (n,) [dm] of every strand's end: cut by hand, so neither even nor level."""
    azimuth = np.arctan2(p[:, 0], p[:, 2] - scalp.eye[2] + 0.75)
    uneven = sum(0.022 * np.sin(k * azimuth + rng.random() * 6.3) for k in (7, 13, 29, 47))
    uneven += 0.035 * np.sin(83 * azimuth + 6.0 * np.sin(5 * azimuth))  # tips hang in locks
    own = ragged * rng.beta(1, 3, len(p)) + 0.04 * rng.standard_normal(len(p))
    return np.asarray(scalp.eye[1] + level + uneven + own)


def _graduated(scalp: Scalp, p: Array) -> Array:
    """How much higher (n,) [dm] a bob is cut towards the nape, so that it is no box."""
    azimuth = np.abs(np.arctan2(p[:, 0], p[:, 2] - scalp.eye[2] + 0.75))
    low = smoothstep(0.5, -0.4, p[:, 1] - scalp.eye[1])
    return np.asarray(smoothstep(1.7, 2.9, azimuth) * (0.06 + 0.20 * low))


def _layered(strands: Array, above: Array, most: float, rng: Rng) -> Array:
    """Some strands shorter than the rest, those near the hairline most."""
    cut = most * rng.beta(0.6, 3.0, len(above)) * (0.5 + 0.8 * smoothstep(0.25, 0.0, above))
    return shortened(strands, np.clip(1 - cut, 0.3, 1))


def _in_locks(strands: Array, amplitude: float, length: float, rng: Rng) -> Array:
    count = len(strands)
    strands = gather(strands, max(60, count // 160), 0.52, 1.4, rng, 0.07)
    strands = gather(strands, max(30, count // 20), 0.45, 1.2, rng, 0.07)
    strands = wave(strands, max(40, count // 500), amplitude, length, rng)
    return frizz(strands, 0.010, 1.1, rng, 0.03)
