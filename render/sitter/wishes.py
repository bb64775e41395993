"""What a sitter is asked to be, and what comes of it together with the sitter's own ways."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from render.errors import MeshError
from render.photometry.srgb import luminance
from render.sitter.cast import CAST, Colour
from render.sitter.choices import (
    BEARDS,
    EXPRESSIONS,
    EYE_COLOURS,
    GLASSES,
    HAIR_COLOURS,
    HAIR_STYLES,
    HEADWEAR,
    TOPS,
)

REFLECTANCE_RANGE = (0.05, 0.60)  # luminous reflectance of skin that the tones cover
REDNESS_RANGE = (0.15, 4.0)  # blood that the tones cover, 1 = average
MOST_CLOTH = 0.95  # in any channel; fresh white cotton reflects about 0.9, from memory

# Wishes that are names, with what is accepted.
CHOICES: dict[str, tuple[str, ...]] = {
    "model": tuple(CAST),
    "hair": HAIR_STYLES,
    "hair_colour": tuple(HAIR_COLOURS),
    "beard": BEARDS,
    "eye_colour": EYE_COLOURS,
    "expression": EXPRESSIONS,
    "glasses": GLASSES,
    "top": TOPS,
    "headwear": HEADWEAR,
}


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a sitter is asked to be; None leaves it to the sitter's own ways.

    Head angles: turn + to the sitter's left, nod + down, tilt + crown to the sitter's right.
    """

    model: str = "alma"
    skin_reflectance: float | None = None  # luminous, of plain facial skin without its gloss
    skin_redness: float | None = None  # blood, 1 = average
    skin_undertone: tuple[float, float] | None = None  # added to CIELAB a*, b*
    hair: str | None = None
    hair_colour: str | None = None
    greying: float | None = None  # share of white hairs, 0..1
    beard: str | None = None
    eye_colour: str | None = None
    expression: str | None = None
    glasses: str | None = None
    top: str | None = None
    top_colour: Colour | None = None  # linear sRGB reflectance
    top_reflectance: float | None = None  # luminous; scales the colour
    headwear: str | None = None
    headwear_colour: Colour | None = None  # linear sRGB reflectance
    head_turn_deg: float = 0.0
    head_nod_deg: float = 0.0
    head_tilt_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Settled:
    """A sitter with every question answered."""

    model: str
    skin_reflectance: float
    skin_redness: float
    skin_undertone: tuple[float, float]
    hair: str
    hair_colour: str
    greying: float
    beard: str
    eye_colour: str
    expression: str
    glasses: str
    top: str
    top_colour: Colour
    headwear: str
    headwear_colour: Colour
    head_turn_deg: float
    head_nod_deg: float
    head_tilt_deg: float
    strand_count: int
    map_width: int


def settled(wishes: Wishes, strand_count: int, map_width: int) -> Settled:
    """The wishes with the sitter's own ways where nothing was asked for.

    Raises MeshError for an unknown name and a number out of range.
    """
    for key, accepted in CHOICES.items():
        name = getattr(wishes, key)
        if name is not None and name not in accepted:
            what = key.replace("_", " ")
            raise MeshError(f"unknown {what} {name!r} (choose from {', '.join(accepted)})")
    own = CAST[wishes.model]
    asked = {f.name: getattr(wishes, f.name) for f in fields(Wishes)}
    asked["top_colour"] = _dyed(wishes.top_colour or own.top_colour, wishes.top_reflectance)
    del asked["top_reflectance"]
    for key in ("reflectance", "redness", "undertone"):
        if asked[f"skin_{key}"] is None:
            asked[f"skin_{key}"] = getattr(own.skin, key)
    own_ways = {key: getattr(own, key) for key, value in asked.items() if value is None}
    out = Settled(**(asked | own_ways), strand_count=strand_count, map_width=map_width)
    _within("skin reflectance", out.skin_reflectance, REFLECTANCE_RANGE)
    _within("skin redness", out.skin_redness, REDNESS_RANGE)
    _within("greying", out.greying, (0.0, 1.0))
    return out


def _dyed(colour: Colour, reflectance: float | None) -> Colour:
    """The colour at another luminous reflectance, no channel above MOST_CLOTH."""
    if reflectance is None:
        return colour
    scale = reflectance / max(float(luminance(np.array(colour))), 1e-6)
    red, green, blue = (min(MOST_CLOTH, scale * c) for c in colour)
    return red, green, blue


def _within(what: str, value: float, limits: tuple[float, float]) -> None:
    low, high = limits
    if not low <= value <= high:
        raise MeshError(f"{what} {value:g} is outside {low:g} to {high:g}")
