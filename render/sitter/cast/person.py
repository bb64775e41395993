"""What is known of one member of the cast: shape, skin, hair, eyes and clothes."""

from __future__ import annotations

from dataclasses import dataclass, field

from render.sitter.cast.recipes import Morphs

Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class SkinTone:
    """What the skin maps need to know about a sitter; amounts are 0..1 unless stated."""

    reflectance: float  # luminous reflectance of plain facial skin
    undertone: tuple[float, float] = (0.0, 0.0)  # added to CIELAB a*, b*
    redness: float = 1.0  # 1 = average
    age: float = 0.3
    stubble: float = 0.0
    freckles: float = 0.0
    flat_brows: bool = False


@dataclass(frozen=True, slots=True)
class Brows:
    """Amount and cut of the eyebrows, 1 = average."""

    density: float = 1.0
    length: float = 1.0
    thickness: float = 1.0
    flat: bool = False


@dataclass(frozen=True, slots=True)
class Sitter:
    """One member of the cast."""

    about: str  # who this is, in a few words
    age_years: int
    morphs: Morphs
    skin: SkinTone
    eye_colour: str
    hair: str
    hair_colour: str
    top_colour: Colour  # linear sRGB reflectance
    top: str = "crew neck"
    greying: float = 0.0
    beard: str = "none"
    expression: str = "slight smile"
    glasses: str = "none"
    headwear: str = "none"
    headwear_colour: Colour = (0.05, 0.05, 0.06)  # linear sRGB reflectance
    brows: Brows = field(default_factory=Brows)
    seed: int = 1
