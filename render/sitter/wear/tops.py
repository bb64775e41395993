"""What a sitter wears on the body: crew neck, shirt, jacket, or a wrap below bare shoulders."""

from __future__ import annotations

from dataclasses import dataclass

from render.sitter.arrays import Array
from render.sitter.body import Surface
from render.sitter.shape.bust import Bust
from render.sitter.wear.crew import crew
from render.sitter.wear.jacket import jacket
from render.sitter.wear.shell import Wearer
from render.sitter.wear.shirt import shirt
from render.sitter.wear.weaves import Colour
from render.sitter.wear.wrap import wrap

# Where collar and shoulders are metered; a wrap leaves them bare.
METERED = {
    "crew neck": ("top", "band"),
    "shirt": ("top", "collar", "placket"),
    "jacket": ("top", "placket", "jacket", "lapels"),
    "wrap": (),
}
_SEWN = {"crew neck": crew, "shirt": shirt, "jacket": jacket, "wrap": wrap}


@dataclass(frozen=True, slots=True, eq=False)
class Worn:
    """A finished top [dm], and what hair collides with."""

    surfaces: tuple[Surface, ...]
    points: Array  # (k, 3) on the cloth
    normals: Array  # (k, 3) unit, outward


def top(style: str, bust: Bust, wearer: Wearer, colour: Colour) -> Worn:
    """A top of a style in METERED on a sitter; colour is linear sRGB reflectance.

    The same sitter, pose, style and colour give the same top.
    """
    surfaces, points, normals = _SEWN[style](bust, wearer, colour)
    return Worn(surfaces, points, normals)
