"""What a sitter wears on the head, and what it means for the hair under it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Mask
from render.sitter.body import Surface
from render.sitter.wear.hat import hat, hat_for
from render.sitter.wear.headscarf import headscarf
from render.sitter.wear.weaves import Colour

_PIECES = 8  # places looked at between two points of a strand


@dataclass(frozen=True, slots=True, eq=False)
class Headwear:
    """Hat or scarf on the unturned head [dm]."""

    surfaces: tuple[Surface, ...]  # surfaces[0] is its outside
    rigid: bool  # turns as one piece with the head; a scarf follows the skin under it
    covered: Callable[[Array], Array] | None  # height over its inner side; None: no hair shows


def headwear(
    style: str, skin: tuple[Array, Array], top_points: Array, eye: Array, colour: Colour
) -> Headwear | None:
    """The headwear of a style; None for "none".

    skin       : vertices and normals (n, 3) of the unturned head
    top_points : (k, 3) on the top, over which a scarf falls
    eye        : (3,) midpoint of the eyes;  colour : linear sRGB reflectance
    """
    if style == "none":
        return None
    if style == "hat":
        shape = hat_for(skin[0], eye)
        return Headwear(hat(shape, colour), True, shape.covered)
    surfaces, _ = headscarf(skin, top_points, eye, colour)
    return Headwear(surfaces, False, None)


def stays_under(strands: Array, covered: Callable[[Array], Array]) -> Mask:
    """Which strands (n, k, 3) pass through the cover nowhere, not even between their points."""
    good = np.ones(len(strands), bool)
    for share in np.linspace(0, 1, _PIECES, endpoint=False):
        between = strands[:, 1:-1] + share * (strands[:, 2:] - strands[:, 1:-1])
        height = covered(between.reshape(-1, 3)).reshape(between.shape[:2])
        good &= (height <= 0).all(1)
    return good
