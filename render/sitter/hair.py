"""Hair of the head: where it grows, the styles, its thickness and its strands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Mask, Rng, along, smoothstep, unit
from render.sitter.bust import Bust
from render.sitter.regions import Regions
from render.sitter.roots import Outside, Spots, scatter
from render.sitter.strands import (
    cut_at,
    frizz,
    gather,
    grow,
    pushed_out,
    smoothed,
    wave,
)

HAIR_STYLES = ("bob", "crop", "bald")
HAIRLINE = {"bob": "long", "crop": "short", "bald": "short"}
# Radius of a strand when this many carry a whole head of hair: fewer strands are thicker, with an
# exponent set by eye. 40 um radius and 100 000 hairs are common textbook values, from memory.
_FULL_HEAD, _HAIR_RADIUS, _THICKEN = 100_000, 0.00040, 0.72
_BABY_SHARE = 0.035  # share of fine short hairs along the hairline; set by eye


@dataclass(frozen=True, slots=True, eq=False)
class Scalp:
    """One sitter's head in neutral pose, as the styles need it [dm]."""

    bust: Bust
    regions: Regions
    vertices: Array  # (n, 3)
    normals: Array  # (n, 3)
    eye: Array  # (3,) midpoint of the eyes
    crown: Array  # (3,) where the hair turns
    cheek: float  # half breadth of the face at the cheekbones
    outside: Outside


def scalp_of(
    bust: Bust,
    regions: Regions,
    skin: tuple[Array, Array],
    eye: Array,
    cloth: tuple[Array, Array],
) -> Scalp:
    """What hair collides with: the head without mouth and lids, and the garment."""
    vertices, normals = skin
    masks = regions.masks
    solid = (np.abs(vertices[:, 1] - eye[1]) < 3.2) & (masks["inside_mouth"] < 0.5)
    solid &= masks["eyelids"] <= 0.01
    near = cloth[0][:, 1] > eye[1] - 3.2
    outside = Outside(
        np.concatenate([vertices[solid], cloth[0][near]]),
        np.concatenate([normals[solid], cloth[1][near]]),
    )
    middle = np.abs(bust.reference[:, 0]) < 1e-4
    crown = vertices[middle][bust.reference[middle, 1].argmax()] + np.array([0, 0, -0.15])
    bone = regions.eye_line + np.array([0.56, -0.16, -0.16])
    cheek = vertices[((bust.reference - bone) ** 2).sum(1).argmin(), 0]
    return Scalp(bust, regions, vertices, normals, eye, crown, float(cheek), outside)


def _roots(scalp: Scalp, style: str, count: int, rng: Rng) -> tuple[Spots, Array]:
    """Random roots, thinning and uneven towards the hairline, and their height above it [dm]."""
    line = HAIRLINE[style]
    above = scalp.regions.above_hairline[line]
    azimuth, uneven = scalp.regions.azimuth, np.zeros(len(above))
    for waves in (5, 9, 14, 23):
        uneven += 0.016 * np.sin(waves * azimuth + rng.random() * 2 * np.pi)
    edge = above + uneven
    weight = smoothstep(-0.06, 0.10, edge) * (scalp.regions.masks[f"scalp_{line}"] > 0)
    ears = 1 - np.clip(scalp.regions.masks["ears"] * 1.5, 0, 1)
    weight = weight * ears * (0.12 + 0.88 * smoothstep(0.0, 0.22, edge))
    skin = scalp.vertices, scalp.normals
    spots = scatter(scalp.bust.quads, skin, weight, count, rng)
    return spots, spots.carry(above)


def grow_hair(scalp: Scalp, style: str, count: int, seed: int) -> tuple[Array, Array]:
    """Strands (n, k, 3) and radii (n, k) [dm] of a style; count is about the number of strands."""
    rng = np.random.default_rng(seed)
    fine = max(20, int(count * _BABY_SHARE))
    grown = _crop if style == "crop" else _bob
    hair = grown(scalp, count - fine, rng)
    baby = _baby_hair(scalp, style, fine, hair.shape[1], rng)
    base = _HAIR_RADIUS * (_FULL_HEAD / count) ** _THICKEN
    thick = np.concatenate([np.full(len(hair), base), np.full(len(baby), 0.55 * base)])
    taper = 1 - 0.65 * np.linspace(0, 1, hair.shape[1]) ** 2.2
    strands = np.concatenate([hair, baby])
    radii = thick[:, None] * taper * rng.uniform(0.8, 1.15, (len(strands), 1))
    strands, good = smoothed(strands, radii)
    strands = pushed_out(scalp.outside, strands, 0.004)
    good &= ~_in_face(scalp, strands)
    return strands[good], radii[good]


def _in_face(scalp: Scalp, strands: Array) -> Mask:
    """Strands (n,) that hang over eyes, nose or mouth."""
    q = strands - scalp.eye
    over = (np.abs(q[..., 0]) < 0.52) & (q[..., 1] < 0.28) & (q[..., 1] > -1.0)
    return np.asarray((over & (q[..., 2] > -0.35)).any(1))


def _baby_hair(scalp: Scalp, style: str, count: int, points: int, rng: Rng) -> Array:
    """Fine short hairs (count, points, 3) that soften the hairline."""
    above = scalp.regions.above_hairline[HAIRLINE[style]]
    band = np.exp(-0.5 * ((above - 0.02) / 0.05) ** 2)
    band *= np.abs(scalp.regions.azimuth) < np.radians(80)
    band *= 1 - np.clip(scalp.regions.masks["ears"] * 2, 0, 1)
    spots = scatter(
        scalp.bust.quads, (scalp.vertices, scalp.normals), band * (band > 0.02), count, rng
    )
    p, normal = spots.points, spots.normals
    back = along(scalp.crown - p, normal)
    heading = unit(back + 0.45 * normal + 0.45 * rng.standard_normal((count, 3)))
    length = rng.uniform(0.10, 0.34, count) * (0.8 if style == "crop" else 1.0)

    def field(q: Array, n: Array, share: float) -> Array:
        return along(back, n) + np.array([0, -0.3 * share, 0])

    steps = points - 2
    start = (p, normal, heading)
    wander = 0.25 * rng.standard_normal((count, 3))
    return grow(
        scalp.outside,
        start,
        length,
        steps,
        field,
        lambda s: np.full(count, 0.008),
        0.15,
        0.05,
        wander,
    )


def _crop(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Short sides, a longer top brushed forward and to one side."""
    spots, above = _roots(scalp, "crop", count, rng)
    p, normal = spots.points, spots.normals
    q = p - scalp.eye
    whorl_at = scalp.crown + np.array([0.05, 0, -0.1])
    top = smoothstep(0.30, 0.80, normal[:, 1] + 0.10 * (q[:, 2] > -0.3))
    length = (0.13 + 0.21 * top) * rng.uniform(0.72, 1.08, count)
    length *= (0.50 + 0.50 * smoothstep(-0.02, 0.18, above)) * np.where(q[:, 1] < -0.3, 0.7, 1)
    away = along(p - whorl_at, normal)
    sideways = along(np.tile([1.0, 0.1, 0.15], (count, 1)), normal)
    front = smoothstep(0.45, 0.0, above) * smoothstep(-0.5, 0.1, q[:, 2])
    front = front * smoothstep(0.45, 0.62, q[:, 1])
    share = np.clip(1 - 0.35 * top - 0.35 * front, 0.15, None)[:, None]
    flow = away * share + sideways * (0.22 * top + 0.50 * front)[:, None]
    flow = unit(flow + np.array([0, 1.0, 0]) * (0.5 * front)[:, None])
    whorl = np.exp(-0.5 * (np.linalg.norm(p - whorl_at, axis=1) / 0.28) ** 2)[:, None]
    swirl = 0.9 * np.cross(normal, away) + 0.45 * rng.standard_normal((count, 3))
    flow = unit(flow + whorl * swirl)
    lift = 0.26 + 0.25 * top + 0.1 * rng.standard_normal(count) + 0.30 * front
    heading = flow + normal * (lift + 0.4 * whorl[:, 0])[:, None]
    heading = unit(heading + 0.10 * rng.standard_normal((count, 3)))
    high = (0.02 + 0.05 * top) * rng.random(count)

    def field(here: Array, n: Array, s: float) -> Array:
        return along(flow, n) + np.array([0, -0.35 * s, 0])

    wander = 0.10 * rng.standard_normal((count, 3))
    start = (p, normal, heading)
    strands = grow(
        scalp.outside, start, length, 6, field, lambda s: 0.008 + high * s, 0.22, 0.10, wander
    )
    strands = gather(strands, count // 14, 0.62, 1.2, rng, 0.08)
    return frizz(strands, 0.010, 1.0, rng, 0.03)


_PART_X = 0.16  # [dm] the parting lies to the sitter's left
_BOB_CUT = -0.92  # [dm] below the eyes: just under the jaw
_BOB_POINTS = 15


def _bob(scalp: Scalp, count: int, rng: Rng) -> Array:
    """Jaw-length straight hair with a side parting, turned in at the ends."""
    spots, _ = _roots(scalp, "bob", count, rng)
    p, normal = spots.points, spots.normals
    eye = scalp.eye
    from_part, side = _parting(scalp, p, rng)
    reach = np.linalg.norm(from_part, axis=1)
    behind = smoothstep(0.0, -0.5, p[:, 2] - scalp.crown[2])
    lateral = np.stack([side, np.zeros(count), np.zeros(count)], 1)
    flow = unit(from_part) * 0.55 + lateral * (0.9 * (1 - behind))[:, None]
    front = smoothstep(-0.6, 0.25, p[:, 2] - eye[2])
    flow = unit(flow + np.array([0, 0, -0.55]) * front[:, None])
    lift = 0.16 + 0.16 * smoothstep(0.35, 0.0, reach)
    heading = along(flow, normal) + normal * lift[:, None]
    heading = unit(heading + 0.05 * rng.standard_normal((count, 3)))
    layer = 0.7 * np.clip(1 - reach / 1.6, 0, 1) + 0.3 * rng.random(count)
    high = 0.025 + 0.085 * layer**1.2
    on_side = np.where(np.abs(p[:, 0]) > 0.12, np.sign(p[:, 0]), side)
    down = np.array([0.0, -1.0, 0.0])

    def field(here: Array, n: Array, s: float) -> Array:
        fall = smoothstep(0.10, 0.42, s)
        target = along(flow, n) * (1 - fall) + along(np.tile(down + 1e-3, (count, 1)), n) * fall
        q = here - eye
        free = smoothstep(0.25, -0.25, q[:, 1])[:, None]
        target = target * (1 - 0.7 * free) + down * free
        inward = -np.stack([q[:, 0], 0 * q[:, 1], q[:, 2] + 0.75], 1)
        target = target + unit(inward) * (0.42 * smoothstep(0.0, -0.85, q[:, 1]))[:, None]
        # Over the temples the hair keeps out of the face.
        ahead = smoothstep(-0.30, 0.1, q[:, 2]) * smoothstep(0.75, 0.3, q[:, 1])
        sweep = np.stack([0.42 * on_side, 0 * on_side, np.full(count, -0.55)], 1)
        return np.asarray(target + ahead[:, None] * sweep)

    wander = 0.03 * rng.standard_normal((count, 3))
    start = (p, normal, heading)
    strands = grow(
        scalp.outside,
        start,
        np.full(count, 3.2),
        22,
        field,
        lambda s: 0.012 + high * smoothstep(0, 0.16, s),
        0.42,
        0.14,
        wander,
    )
    ends = eye[1] + _BOB_CUT + 0.20 * rng.beta(1, 3, count) + 0.04 * rng.standard_normal(count)
    strands = cut_at(strands, ends, _BOB_POINTS)
    strands = gather(strands, max(60, count // 70), 0.55, 1.4, rng, 0.06)
    strands = gather(strands, max(30, count // 9), 0.45, 1.2, rng, 0.06)
    strands = wave(strands, max(40, count // 250), 0.045, 1.25, rng)
    strands = frizz(strands, 0.013, 0.9, rng, 0.025)
    return _out_of_face(scalp, strands)


def _parting(scalp: Scalp, p: Array, rng: Rng) -> tuple[Array, Array]:
    """Offset (n, 3) of roots from the parting line, and the side (n,) they are combed to."""
    front = np.array([_PART_X, scalp.eye[1] + 0.72, scalp.eye[2] + 0.1])
    back = scalp.crown + np.array([0.7 * _PART_X, 0.02, -0.05])
    line = back - front
    t = np.clip(((p - front) @ line) / (line @ line), 0, 1)
    nearest = front + t[:, None] * line
    waver = 0.035 * rng.standard_normal(len(p)) * (1 - 0.3 * t)
    return p - nearest, np.where(p[:, 0] + waver > nearest[:, 0], 1.0, -1.0)


def _out_of_face(scalp: Scalp, strands: Array) -> Array:
    """Strands moved aside where they would cross the cheeks or the eyes."""
    out = strands.copy()
    q = strands - scalp.eye
    share = np.interp(
        q[..., 1],
        [-1.2, -0.8, -0.4, -0.1, 0.25, 0.6, 0.78],
        [0.62, 0.80, 0.93, 1.0, 1.0, 0.80, 0.0],
    )
    limit = scalp.cheek * share * smoothstep(-0.75, -0.35, q[..., 2])
    side = np.where(out[..., 0] >= 0, 1.0, -1.0)
    crossing = (np.abs(out[..., 0]) < limit) & (q[..., 1] < 0.78)
    out[..., 0] = np.where(crossing, side * limit, out[..., 0])
    return out
