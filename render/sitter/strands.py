"""Every strand of a finished body: lashes, brows, beard and hair, clear of skin, cloth and hat."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from render.sitter.arrays import M_PER_DM, Array
from render.sitter.body import Fibre, Strands
from render.sitter.cast import Sitter
from render.sitter.hair.dressing import Tuft, dressed
from render.sitter.hair.facial import lashes
from render.sitter.hair.resting import rested
from render.sitter.hair.scalp import scalp_of
from render.sitter.hair.strands import HAIR_CLEAR_DM, cusped, pushed_out
from render.sitter.neutral import Neutral
from render.sitter.wear.headwear import Headwear, stays_under
from render.sitter.wishes import Settled

_LASH_FIBRE = Fibre(7.0, 0.2)  # lashes are darker than hair


def _pruned(tuft: Tuft, covered: Callable[[Array], Array]) -> Tuft:
    """Hair of the head without the strands that come through a hat."""
    if not tuft.name.startswith("hair"):
        return tuft
    good = stays_under(tuft.points, covered)
    return replace(tuft, points=tuft.points[good], radii=tuft.radii[good], weight=tuft.weight[good])


def all_strands(
    neutral: Neutral,
    wish: Settled,
    sitter: Sitter,
    cloth: tuple[Array, Array],
    turned: tuple[Array, Array],
    worn: Headwear | None,
) -> tuple[Strands, ...]:
    """Lashes, brows, beard and hair; turned: points and normals of the skin after the turn."""
    skin = neutral.vertices, neutral.normals
    eye = 0.5 * (neutral.eyes["l"][0] + neutral.eyes["r"][0])
    scalp = scalp_of(neutral.bust, neutral.regions, skin, eye, cloth)
    follow = np.clip(neutral.bust.matrix @ neutral.head.head_weight, 0, 1)
    covered = None if worn is None else worn.covered
    if worn is not None and covered is None:
        wish = replace(wish, hair="bald")  # no hair shows
    tufts = dressed(scalp, wish, sitter, (neutral.pose, follow), covered)
    if covered is not None:
        tufts = tuple(_pruned(tuft, covered) for tuft in tufts)
    lash_rng = np.random.default_rng(sitter.seed)
    points, radii = lashes(neutral.head, neutral.base, scalp.outside, lash_rng)
    tufts = (Tuft("lashes", points, radii, _LASH_FIBRE, np.ones(radii.shape)), *tufts)
    still = not (wish.head_turn_deg or wish.head_nod_deg or wish.head_tilt_deg)
    body = scalp.outside
    if not still:
        body = scalp_of(neutral.bust, neutral.regions, turned, eye, cloth).outside
    out = []
    for tuft in tufts:
        moved = tuft.points if still else neutral.pose(tuft.points, tuft.weight)
        if not still and tuft.name.startswith(("hair", "beard")):
            moved = pushed_out(body, moved, HAIR_CLEAR_DM)
            moved, free = rested(body, moved, 2 * HAIR_CLEAR_DM)
            tuft, moved = replace(tuft, radii=tuft.radii[free]), moved[free]
        if tuft.name.startswith(("hair", "beard")):
            good = ~cusped(moved)
            tuft, moved = replace(tuft, radii=tuft.radii[good]), moved[good]
        placed = neutral.metres(moved).astype(np.float32)
        out.append(
            Strands(tuft.name, placed, (tuft.radii * M_PER_DM).astype(np.float32), tuft.fibre)
        )
    return tuple(out)
