"""Hair colour: pigment of the strands, white hairs among them, and the shade under a mass of hair.

Pigments are concentrations for the fibre model on the scale of d'Eon et al., Computer Graphics
Forum 30 (2011) 1181.
"""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Index, Mask, Rng, bell, smoothstep
from render.sitter.body import Fibre
from render.sitter.choices import GREY_SHARE, HAIR_COLOURS

# A head's strands differ: factor on eumelanin, factor on pheomelanin, share; set by eye.
PIGMENT_MIX = ((0.80, 1.0, 0.30), (1.00, 1.0, 0.45), (1.35, 1.0, 0.25))
WHITE = Fibre(*HAIR_COLOURS["white"])
_FEW = 0.02  # share of white hairs not worth a group of their own
_BROW_LAG = 0.7  # brows go grey after the head, beards before it; set by eye
_BEARD_LEAD = 1.25
# Pigment of brows over that of the head's hair, what light hair has more; set by eye.
BROW_DARKER, BROW_LIGHT_DARKER, BROW_RED = 2.8, 1.4, 0.8
_TEMPLES_FIRST = 0.45  # how much sooner hair at the temples turns white; set by eye


def white_share(colour: str, greying: float) -> float:
    """Share 0..1 of white hairs: the colour's own and those of greying."""
    return 1 - (1 - GREY_SHARE.get(colour, 0.0)) * (1 - greying)


def head_fibres(colour: str) -> tuple[Fibre, ...]:
    """Fibres of the pigmented hairs, in the order of PIGMENT_MIX."""
    dark, red = HAIR_COLOURS[colour]
    return tuple(Fibre(dark * d, red * r) for d, r, _ in PIGMENT_MIX)


def beard_fibre(colour: str) -> Fibre:
    """A beard is a little darker and redder than the hair of the head."""
    dark, red = HAIR_COLOURS[colour]
    return Fibre(1.15 * dark, 1.5 * red)


def brow_fibre(colour: str) -> Fibre:
    """Brows are darker than hair: shorter, thicker, less bleached by sun and washing.

    A head's colours are chosen for their mass (see `choices`); hairs that lie singly over skin are
    as dark as they look in brows with nearly three times the pigment. Common practice, no source.
    """
    dark, red = HAIR_COLOURS[colour]
    more = BROW_DARKER + BROW_LIGHT_DARKER * float(np.exp(-dark / 0.15))
    return Fibre(more * dark, BROW_RED * red)


def brow_white(share: float) -> float:
    """Share of white hairs in the brows of a head with this share."""
    return share if share > 0.97 else _BROW_LAG * share


def beard_white(share: float) -> float:
    """Share of white hairs in the beard of a head with this share."""
    return min(1.0, _BEARD_LEAD * share)


def white_hairs(share: float, from_eye: Array, rng: Rng) -> Mask:
    """Which strands (n,) are white: the share asked for, more at the temples while it is low.

    from_eye : roots (n, 3) measured from the middle of the eyes [dm]
    """
    count = len(from_eye)
    if share < _FEW:
        return np.zeros(count, bool)
    azimuth = np.degrees(np.arctan2(np.abs(from_eye[:, 0]), from_eye[:, 2] + 0.75))
    temple = bell(azimuth, 75.0, 30.0) * smoothstep(0.75, 0.35, from_eye[:, 1])
    rank = rng.random(count) - _TEMPLES_FIRST * (1 - share) * temple
    return np.asarray(rank <= np.quantile(rank, share))


def mixed_groups(count: int, rng: Rng) -> Index:
    """Number (n,) of each strand's fibre in PIGMENT_MIX."""
    return rng.choice(len(PIGMENT_MIX), count, p=[share for _, _, share in PIGMENT_MIX])


def mass_colour(colour: str, greying: float) -> tuple[float, float, float]:
    """Diffuse look-alike of a mass of hair for the skin under the strands; depth set by eye."""
    white = white_share(colour, greying)
    shade = (1 - white) * _shade(*HAIR_COLOURS[colour]) + white * _shade(*HAIR_COLOURS["white"])
    red, green, blue = (float(c) for c in shade)
    return red, green, blue


def _shade(eumelanin: float, pheomelanin: float) -> Array:
    absorbed = eumelanin * np.array([0.506, 0.841, 1.653])
    absorbed = absorbed + pheomelanin * np.array([0.343, 0.733, 1.924])
    return np.asarray(np.exp(-1.9 * np.sqrt(absorbed)) * 0.20 + 0.004)
