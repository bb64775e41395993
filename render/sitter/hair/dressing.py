"""All strands of a sitter's head but the lashes: hair, brows and beard, with their fibres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Rng
from render.sitter.body import Fibre
from render.sitter.cast import Sitter
from render.sitter.hair import pigment
from render.sitter.hair.beard import CUTS as BEARD_CUTS
from render.sitter.hair.beard import beard_hair
from render.sitter.hair.cover import Covered, under_cover
from render.sitter.hair.facial import brows
from render.sitter.hair.growth import CUTS, grow_hair
from render.sitter.hair.scalp import Scalp
from render.sitter.shape.posing import HeadPose
from render.sitter.wishes import Settled

_ROOT_HOLD = 0.4  # [dm] over which a hanging strand stops following its root


@dataclass(frozen=True, slots=True, eq=False)
class Tuft:
    """Strands of one fibre on the unturned head [dm], and how far each point follows the head."""

    name: str
    points: Array  # (n, k, 3)
    radii: Array  # (n, k)
    fibre: Fibre
    weight: Array  # (n, k) 0..1


def dressed(
    scalp: Scalp,
    wish: Settled,
    sitter: Sitter,
    head: tuple[HeadPose, Array],
    covered: Covered | None = None,
) -> tuple[Tuft, ...]:
    """Brows, beard and hair of the head.

    head    : the pose of the neck, and how far each skin vertex (n,) follows it
    covered : height over a hat's inner side; None without a hat
    """
    white = pigment.white_share(wish.hair_colour, wish.greying)
    tufts = _brows(scalp, wish, sitter, white)
    if wish.strand_count == 0:
        return tufts
    if wish.beard in BEARD_CUTS:
        tufts += _beard(scalp, wish, sitter, (white, head[1]))
    if wish.hair not in CUTS:
        return tufts
    points, radii = grow_hair(scalp, wish.hair, wish.strand_count, sitter.seed)
    if covered is not None:
        points, radii = under_cover(points, radii, covered)
    weight = _hanging(points, *head, scalp)
    rng = np.random.default_rng(sitter.seed + 9)
    group = pigment.mixed_groups(len(points), rng)
    group[pigment.white_hairs(white, points[:, 1] - scalp.eye, rng)] = len(pigment.PIGMENT_MIX)
    fibres = (*pigment.head_fibres(wish.hair_colour), pigment.WHITE)
    for i, fibre in enumerate(fibres):
        mine = group == i
        if mine.any():
            tufts += (Tuft(f"hair_{i}", points[mine], radii[mine], fibre, weight[mine]),)
    return tufts


def _brows(scalp: Scalp, wish: Settled, sitter: Sitter, white: float) -> tuple[Tuft, ...]:
    rng = np.random.default_rng(sitter.seed)
    skin = scalp.vertices, scalp.normals
    points, radii = brows(scalp.bust, scalp.regions, skin, sitter.brows, rng)
    fibre = pigment.brow_fibre(wish.hair_colour)
    share = pigment.brow_white(1.0 if wish.hair_colour == "white" else white)
    return _split("brows", (points, radii), np.ones(radii.shape), (fibre, share), rng)


def _beard(
    scalp: Scalp, wish: Settled, sitter: Sitter, how: tuple[float, Array]
) -> tuple[Tuft, ...]:
    white, follow = how
    rng = np.random.default_rng(sitter.seed + 5)
    points, radii = beard_hair(scalp, BEARD_CUTS[wish.beard], wish.strand_count, rng)
    weight = np.broadcast_to(_at_roots(points, follow, scalp)[:, None], radii.shape)
    fibre = pigment.beard_fibre(wish.hair_colour)
    return _split("beard", (points, radii), weight, (fibre, pigment.beard_white(white)), rng)


def _split(
    name: str, grown: tuple[Array, Array], weight: Array, dye: tuple[Fibre, float], rng: Rng
) -> tuple[Tuft, ...]:
    """The strands with a share of them white."""
    (points, radii), (fibre, share) = grown, dye
    white = pigment.white_hairs(share, points[:, 1] + np.array([0, 9.0, 0]), rng)
    out = []
    for part, mine, colour in ((name, ~white, fibre), (f"{name}_white", white, pigment.WHITE)):
        if mine.any():
            out.append(Tuft(part, points[mine], radii[mine], colour, weight[mine]))
    return tuple(out)


def _at_roots(points: Array, follow: Array, scalp: Scalp) -> Array:
    """How far the skin (n,) at each root follows the head."""
    _, vertex = cKDTree(scalp.vertices).query(points[:, 1])
    return np.asarray(follow[vertex])


def _hanging(points: Array, pose: HeadPose, follow: Array, scalp: Scalp) -> Array:
    """How far each point (n, k) follows the head: at the root as its skin, then by height."""
    by_height = pose.follow(points)
    run = np.linalg.norm(points - points[:, 1:2], axis=2)
    hold = np.exp(-run / _ROOT_HOLD)
    at_root = _at_roots(points, follow, scalp)[:, None] - by_height[:, 1:2]
    return np.asarray(np.clip(by_height + hold * at_root, 0, 1))
