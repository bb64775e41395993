"""Hair styles: a cropped cut and a jaw-length bob, combed strand by strand."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Rng, along, bell, smoothstep, unit
from render.sitter.hair.scalp import Scalp, out_of_face, roots_on
from render.sitter.hair.strands import Comb, Field, cut_at, frizz, gather, grow, wave

_DOWN = np.array([0.0, -1.0, 0.0])


def crop(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Short sides, a longer top brushed forward and to one side."""
    spots, above = roots_on(scalp, "crop", count, rng)
    p, normal = spots.points, spots.normals
    q = p - scalp.eye
    whorl_at = scalp.crown + np.array([0.05, 0, -0.1])
    top = smoothstep(0.30, 0.80, normal[:, 1] + 0.10 * (q[:, 2] > -0.3))
    edge = 0.50 + 0.50 * smoothstep(-0.02, 0.18, above)
    length = (0.13 + 0.21 * top) * edge * rng.uniform(0.72, 1.08, count)
    length *= np.where(q[:, 1] < -0.3, 0.7, 1)
    away = along(p - whorl_at, normal)
    sideways = along(np.tile([1.0, 0.1, 0.15], (count, 1)), normal)
    front = smoothstep(0.45, 0.0, above) * smoothstep(-0.5, 0.1, q[:, 2])
    front = front * smoothstep(0.45, 0.62, q[:, 1])
    share = np.clip(1 - 0.35 * top - 0.35 * front, 0.15, None)[:, None]
    combed: Array = away * share + sideways * (0.22 * top + 0.50 * front)[:, None]
    combed = unit(combed + np.array([0, 1.0, 0]) * (0.5 * front)[:, None])
    whorl = bell(np.linalg.norm(p - whorl_at, axis=1), 0.0, 0.28)[:, None]
    swirl = 0.9 * np.cross(normal, away) + 0.45 * rng.standard_normal((count, 3))
    flow = unit(combed + whorl * swirl)
    lift = 0.26 + 0.25 * top + 0.1 * rng.standard_normal(count) + 0.30 * front
    heading: Array = flow + normal * (lift + 0.4 * whorl[:, 0])[:, None]
    heading = unit(heading + 0.10 * rng.standard_normal((count, 3)))
    high = (0.02 + 0.05 * top) * rng.random(count)

    def field(here: Array, n: Array, s: float) -> Array:
        return np.asarray(along(flow, n) + np.array([0, -0.35 * s, 0]))

    wander = 0.10 * rng.standard_normal((count, 3))
    comb = Comb(field, lambda s: 0.008 + high * s, 0.22, 0.10, wander)
    strands = grow(scalp.outside, (p, normal, heading), length, 6, comb)
    strands = gather(strands, count // 14, 0.62, 1.2, rng, 0.08)
    return frizz(strands, 0.010, 1.0, rng, 0.03)


_PART_X = 0.16  # [dm] the parting lies to the sitter's left
_BOB_CUT = -0.92  # [dm] below the eyes: just under the jaw
_BOB_POINTS = 15


def bob(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Jaw-length straight hair with a side parting, turned in at the ends."""
    spots, _ = roots_on(scalp, "bob", count, rng, _denser_at_parting(scalp, rng))
    p, normal = spots.points, spots.normals
    eye = scalp.eye
    from_part, side = _parting(scalp, p, rng)
    reach = np.linalg.norm(from_part, axis=1)
    behind = smoothstep(0.0, -0.5, p[:, 2] - scalp.crown[2])
    lateral = np.stack([side, np.zeros(count), np.zeros(count)], 1)
    flow = unit(from_part) * 0.55 + lateral * (0.9 * (1 - behind))[:, None]
    front = smoothstep(-0.6, 0.25, p[:, 2] - eye[2])
    flow = unit(flow + np.array([0, 0, -0.95]) * front[:, None])
    # Hair that grows low on the sides and the nape hangs at once.
    late = 0.15 + 0.85 * smoothstep(0.10, 0.75, p[:, 1] - eye[1])
    flow = unit(flow * late[:, None] + _DOWN * (1 - late)[:, None])
    lift = 0.13 + 0.12 * smoothstep(0.35, 0.0, reach)
    heading = along(flow, normal) + normal * lift[:, None]
    heading = unit(heading + 0.04 * rng.standard_normal((count, 3)))
    layer = 0.7 * np.clip(1 - reach / 1.6, 0, 1) * (
        0.5 + 0.5 * smoothstep(0.0, 0.5, reach)
    ) + 0.3 * rng.random(count)
    # Beside the ears the hair stands off as far as the ears do, so that they do not show as bumps.
    azimuth = np.arctan2(np.abs(p[:, 0]), p[:, 2] - eye[2] + 0.75)
    high = 0.022 + 0.070 * layer**1.2 + 0.055 * bell(azimuth, np.radians(95), np.radians(32))
    on_side = np.where(np.abs(p[:, 0]) > 0.12, np.sign(p[:, 0]), side)
    comb = Comb(
        field=_bob_field(eye, flow, on_side, late),
        clearance=lambda s: 0.012 + high * smoothstep(0, 0.13, s),
        stiffness=0.42,
        hold=0.26,
        wander=0.02 * rng.standard_normal((count, 3)),
    )
    strands = grow(scalp.outside, (p, normal, heading), np.full(count, 3.0), 22, comb)
    strands = cut_at(strands, _bob_ends(scalp, p, rng), _BOB_POINTS)
    strands = gather(strands, max(60, count // 70), 0.55, 1.4, rng, 0.06)
    strands = gather(strands, max(30, count // 9), 0.45, 1.2, rng, 0.06)
    strands = wave(strands, max(40, count // 250), 0.028, 1.35, rng)
    strands = frizz(strands, 0.009, 1.1, rng, 0.03)
    return out_of_face(scalp, strands)


def _bob_field(eye: Array, flow: Array, on_side: Array, late: Array) -> Field:
    """Headings of bob strands: away from the parting, down over the ear, in at the jaw."""
    count = len(flow)

    def field(here: Array, n: Array, s: float) -> Array:
        fall = smoothstep(0.10 * late, 0.42 * late, s)[:, None]
        q = here - eye
        hanging = along(np.tile(_DOWN + 1e-3, (count, 1)), n)
        target = along(flow, n) * (1 - fall) + hanging * fall
        # Below the ear nothing carries the hair any more.
        free = smoothstep(-0.05, -0.55, q[:, 1])[:, None]
        target = target * (1 - 0.8 * free) + _DOWN * free
        inward = -np.stack([q[:, 0], 0 * q[:, 1], q[:, 2] + 0.75], 1)
        target = target + unit(inward) * (0.30 * smoothstep(-0.1, -0.85, q[:, 1]))[:, None]
        # Over the temples the hair keeps out of the face.
        ahead = smoothstep(-0.30, 0.1, q[:, 2]) * smoothstep(0.75, 0.3, q[:, 1])
        sweep = np.stack([0.20 * on_side, 0 * on_side, np.full(count, -0.50)], 1)
        return np.asarray(target + ahead[:, None] * sweep)

    return field


def _bob_ends(scalp: Scalp, p: Array, rng: Rng) -> Array:
    """Height (n,) [dm] of every strand's end: cut by hand, so neither even nor level."""
    azimuth = np.arctan2(p[:, 0], p[:, 2] - scalp.eye[2] + 0.75)
    uneven = sum(0.022 * np.sin(k * azimuth + rng.random() * 6.3) for k in (7, 13, 29, 47))
    own = 0.22 * rng.beta(1, 3, len(p)) + 0.04 * rng.standard_normal(len(p))
    return np.asarray(scalp.eye[1] + _BOB_CUT + uneven + own)


def _denser_at_parting(scalp: Scalp, rng: Rng) -> Array:
    """Vertex weight (n,): more roots along the parting, so that no bare line shows."""
    offset, _ = _parting(scalp, scalp.vertices, rng)
    return np.asarray(1 + 2.5 * bell(np.linalg.norm(offset, axis=1), 0.0, 0.10))


def _parting(scalp: Scalp, p: Array, rng: Rng) -> tuple[Array, Array]:
    """Offset (n, 3) of roots from the parting line, and the side (n,) they are combed to."""
    front = np.array([_PART_X, scalp.eye[1] + 0.72, scalp.eye[2] + 0.1])
    back = scalp.crown + np.array([0.7 * _PART_X, 0.02, -0.05])
    line = back - front
    t = np.clip(((p - front) @ line) / (line @ line), 0, 1)
    nearest = front + t[:, None] * line
    waver = (0.015 + 0.035 * smoothstep(0.1, 0.5, t)) * rng.standard_normal(len(p))
    return p - nearest, np.where(p[:, 0] + waver > nearest[:, 0], 1.0, -1.0)
