"""Hair of the head: the styles, the thickness of strands and the fine hairs at the hairline."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Rng, along, smoothstep, unit
from render.sitter.hair.resting import rested
from render.sitter.hair.roots import scatter
from render.sitter.hair.scalp import Scalp, beyond_hairline, in_face
from render.sitter.hair.strands import HAIR_CLEAR_DM, MIN_SEGMENT, Comb, grow, pushed_out, smoothed
from render.sitter.hair.styles.curls import curls
from render.sitter.hair.styles.long import bob, long
from render.sitter.hair.styles.short import close_crop, crop, fringe, receding
from render.sitter.hair.styles.tied import tied_back
from render.sitter.hair.thickness import HAIR_RADIUS, strand_radius_factor

CUTS = {
    "close crop": close_crop,
    "crop": crop,
    "fringe": fringe,
    "bob": bob,
    "long": long,
    "curls": curls,
    "tied back": tied_back,
    "receding": receding,
}
# Coils cover more than straight hair and take more points; short hair covers less and takes few.
_MORE = {"curls": 0.72, "crop": 1.8, "receding": 1.2}
_BABY_SHARE = 0.022  # share of fine short hairs along the hairline; set by eye
_REST = 0.012  # [dm] to which strands are lifted that lay under skin or cloth
_SHORT = ("close crop", "crop", "fringe", "receding")


def grow_hair(scalp: Scalp, style: str, count: int, seed: int) -> tuple[Array, Array]:
    """Strands (n, k, 3) and radii (n, k) [dm] of a style; count is about the number of strands.

    The strands come in random order: the first of them are a fair sample of all.
    """
    rng = np.random.default_rng(seed)
    fine = max(20, int(count * _BABY_SHARE))
    most = int(_MORE.get(style, 1.0) * count) - fine
    hair = CUTS[style](scalp, most, rng)
    baby = _baby_hair(scalp, style, fine, hair.shape[1], rng)
    base = HAIR_RADIUS * strand_radius_factor(count)
    thick = np.concatenate([np.full(len(hair), base), np.full(len(baby), 0.32 * base)])
    taper = 1 - 0.65 * np.linspace(0, 1, hair.shape[1]) ** 2.2
    strands = np.concatenate([hair, baby])
    thick *= 0.6 + 0.4 * smoothstep(-0.02, 0.08, _above_hairline(scalp, style, strands[:, 1]))
    radii = thick[:, None] * taper * rng.uniform(0.8, 1.15, (len(strands), 1))
    # Cusps are judged by a real hair: thick strands that stand for several would all be lost.
    strands, good = smoothed(strands, radii * (HAIR_RADIUS / base))
    strands = pushed_out(scalp.outside, strands, HAIR_CLEAR_DM)
    strands, free = rested(scalp.outside, strands, _REST)
    good &= free
    shortest = np.linalg.norm(np.diff(strands, axis=1), axis=2).min(1)
    good &= (shortest > MIN_SEGMENT) & ~in_face(scalp, strands)
    order = rng.permutation(np.flatnonzero(good))
    return strands[order], radii[order]


def _above_hairline(scalp: Scalp, style: str, roots: Array) -> Array:
    """Height (n,) of roots (n, 3) above the hairline, where hair is finer [dm]."""
    _, nearest = cKDTree(scalp.vertices).query(roots)
    return np.asarray(beyond_hairline(scalp, style)[nearest])


def _baby_hair(scalp: Scalp, style: str, count: int, points: int, rng: Rng) -> Array:
    """Fine short hairs (count, points, 3) that soften the hairline."""
    above = beyond_hairline(scalp, style)
    band = np.exp(-0.5 * ((above - 0.005) / 0.03) ** 2)
    band *= np.abs(scalp.regions.azimuth) < np.radians(80)
    band *= 1 - np.clip(scalp.regions.masks["ears"] * 2, 0, 1)
    spots = scatter(
        scalp.bust.quads, (scalp.vertices, scalp.normals), band * (band > 0.02), count, rng
    )
    p, normal = spots.points, spots.normals
    back = along(scalp.crown - p, normal)
    heading = unit(back + 0.12 * normal + 0.22 * rng.standard_normal((count, 3)))
    length = rng.uniform(0.10, 0.30, count) * (0.5 if style in _SHORT else 1.0)
    length *= 0.4 if style == "close crop" else 1.0

    def field(q: Array, n: Array, share: float) -> Array:
        return along(back, n)

    wander = 0.15 * rng.standard_normal((count, 3))
    comb = Comb(field, lambda s: np.full(count, 0.008), 0.40, 0.30, wander)
    return grow(scalp.outside, (p, normal, heading), length, points - 2, comb)
