"""What walls, floors and backdrops are covered with: papers, cloths and paints of the kit."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from render.studio.part import Part, Reflectance

Colour = tuple[Reflectance, Reflectance, Reflectance]
Tone = Reflectance | Colour | str  # grey, linear red, green, blue, or a name in the kit

TONE_WORDS = (
    "luminous reflectance; red, green, blue as linear reflectances; or a surface of the kit"
)


class Surface(Part):
    """A matte paper, cloth, paint or floor covering. Typical, until you meter your own."""

    kind: Literal["paper", "cloth", "paint", "floor"] = Field(description="what it is")
    reflectance: Reflectance = Field(description="luminous reflectance, a typical one")
    reflectance_range: tuple[Reflectance, Reflectance] | None = Field(
        None, description="least and most that is usual"
    )
    colour: Colour | None = Field(
        None,
        description="red, green, blue in linear light, scaled to the reflectance; default grey",
    )
    source: str = Field("", description="where the figures are from")
