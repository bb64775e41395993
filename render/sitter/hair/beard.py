"""Beards: stubble, a short trimmed beard and a full one with moustache."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Mask, Rng, along, smoothstep, unit
from render.sitter.hair.locks import frizz, gather
from render.sitter.hair.roots import Spots, scatter
from render.sitter.hair.scalp import Scalp
from render.sitter.hair.strands import MIN_SEGMENT, Comb, grow, pushed_out


@dataclass(frozen=True, slots=True)
class BeardCut:
    """Lengths [dm] on cheeks and chin, and how the hairs lie; set by eye."""

    cheek: float
    chin: float
    lip: float  # moustache
    stand: float  # part of the first heading that points straight off the skin
    share: float  # of the strands on a whole head
    steps: int
    volume: float  # [dm] that the outer hairs stand off the skin at their tips


CUTS = {
    "stubble": BeardCut(0.014, 0.017, 0.014, 0.75, 0.24, 3, 0.0),
    "short": BeardCut(0.055, 0.085, 0.065, 0.62, 0.24, 5, 0.05),
    "full": BeardCut(0.13, 0.46, 0.18, 0.45, 0.36, 12, 0.15),
}
# A man's beard has some 25 000 hairs of about 60 um radius, from memory; strand radii grow when
# fewer stand for all, with the exponent used for the head.
_WHOLE_BEARD, _RADIUS, _THICKEN = 25_000, 0.0006, 0.72


def beard_hair(scalp: Scalp, cut: BeardCut, count: int, rng: Rng) -> tuple[Array, Array]:
    """Strands (n, k, 3) and radii (n, k) [dm]; count is that of the hair of a whole head."""
    number = max(60, int(cut.share * count))
    masks = scalp.regions.masks
    weight = np.clip(masks["beard"] + masks["moustache"], 0, 1) ** 0.8
    weight = np.where(weight > 0.08, weight, 0) * (masks["inside_mouth"] < 0.5)
    spots = scatter(scalp.bust.quads, (scalp.vertices, scalp.normals), weight, number, rng)
    lip = spots.carry(masks["moustache"]) > 0.15
    flow = _flow(scalp, spots, lip)
    length = _lengths(scalp, spots, cut, lip) * rng.uniform(0.55, 1.1, number)
    heading = unit(flow + cut.stand * spots.normals + 0.20 * rng.standard_normal(flow.shape))
    high = cut.volume * rng.random(number) * np.where(lip, 0.35, 1.0)

    def field(here: Array, n: Array, s: float) -> Array:
        return np.asarray(along(flow, n) + np.array([0, -0.45 * s, 0]))

    comb = Comb(
        field,
        lambda s: 0.003 + high * s,
        0.10 if cut.steps < 4 else 0.30,
        0.05,
        (0.12 if cut.volume > 0.1 else 0.22) * rng.standard_normal((number, 3)),
    )
    strands = grow(scalp.outside, (spots.points, spots.normals, heading), length, cut.steps, comb)
    if cut.volume > 0.1:
        strands = gather(strands, max(40, number // 40), 0.45, 1.2, rng, 0.10)
        strands = frizz(strands, 0.014, 0.8, rng, 0.05)
    strands = pushed_out(scalp.outside, strands, 0.003)
    radius = _RADIUS * (_WHOLE_BEARD / number) ** _THICKEN
    taper = 1 - 0.55 * np.linspace(0, 1, strands.shape[1]) ** 2
    radii = radius * taper * rng.uniform(0.75, 1.15, (number, 1))
    good = np.linalg.norm(np.diff(strands, axis=1), axis=2).min(1) > MIN_SEGMENT
    good &= ~_over_lips(scalp, strands)
    return strands[good], radii[good]


def _flow(scalp: Scalp, spots: Spots, lip: Mask) -> Array:
    """Headings (n, 3) along the skin: down, a little forward, the moustache to its sides."""
    q = spots.points - scalp.eye
    x = q[:, :1] / 0.6
    down = np.concatenate([0.30 * x, -np.ones_like(x), 0.15 + 0 * x], 1)
    side = np.sign(q[:, :1]) * (0.35 + 0.65 * smoothstep(0.0, 0.12, np.abs(q[:, :1])))
    aside = np.concatenate([1.3 * side, -0.75 + 0 * x, 0 * x], 1)
    return along(np.where(lip[:, None], aside, down), spots.normals)


def _lengths(scalp: Scalp, spots: Spots, cut: BeardCut, lip: Mask) -> Array:
    q = spots.points - scalp.eye
    at_chin = smoothstep(0.62, 0.10, np.abs(q[:, 0])) * smoothstep(-0.55, -0.85, q[:, 1])
    length = cut.cheek + (cut.chin - cut.cheek) * at_chin
    # Fading in from the cheek's edge, and shorter towards the ears and on the throat.
    edge = spots.carry(scalp.regions.masks["beard"])
    length = length * (0.45 + 0.55 * smoothstep(0.1, 0.7, edge))
    length = length * (0.55 + 0.45 * smoothstep(-0.75, -0.25, q[:, 2]))
    return np.where(lip, cut.lip, length)


def _over_lips(scalp: Scalp, strands: Array) -> Mask:
    """Strands (n,) that hang over the mouth."""
    lips = scalp.vertices[scalp.regions.masks["lips"] > 0.6]
    low, high = lips.min(0), lips.max(0)
    inset = 0.12 * (high - low)
    p = strands[:, 2:]
    over = (p[..., 0] > low[0] + inset[0]) & (p[..., 0] < high[0] - inset[0])
    over &= (p[..., 1] > low[1] + inset[1]) & (p[..., 1] < high[1] - inset[1])
    return np.asarray((over & (p[..., 2] > low[2])).any(1))
