"""An element: small things in the air, photographed for themselves on black or round the sitter."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from render.studio.part import Part, Vector
from render.studio.surface import Tone

ElementKind = Literal["grains", "flakes", "drops", "curls", "dust"]
Millimetres = Annotated[float, Field(ge=0.005, le=200)]  # fine dust, to a long shaving
Extent = Annotated[float, Field(ge=0, le=5)]


class Element(Part):
    """Particles in the air: a cloud of them, or falling from a place.

    They are matte, drops are clear. What they hide from lights and meter shows in the traced look
    alone.
    """

    kind: ElementKind = Field(
        description="grains are small spheres, flakes thin bent plates, drops clear spheres that "
        "refract, curls coiled shavings, dust a veil of grains too fine to be told apart"
    )
    count: int = Field(
        ge=1,
        le=10**9,
        description="of particles; a milligram of dust is 1.9 million of 0.01 mm, 15 thousand of "
        "0.05 mm (at the density of water)",
    )
    size_mm: tuple[Millimetres, Millimetres] = Field(
        description="smallest and largest: diameter of a grain, drop or curl, length of a flake; "
        "even in stops between them, so that small ones are as many as large ones; dust 0.005 to "
        "0.2, all else from 0.05"
    )
    colour: Tone | None = Field(
        None,
        description="one number for grey; red, green, blue as linear reflectances; or a surface of "
        "the kit",
    )
    reflectance: float | None = Field(
        None,
        ge=0.01,
        le=0.95,
        description="luminous reflectance, scales the colour; default without a colour: grains "
        "0.75, flakes and curls 0.5; of dust the share of light that it scatters, 0.9",
    )
    through: float | None = Field(
        None,
        ge=0,
        le=0.9,
        description="share of the light on them that comes out on the other side, in their colour; "
        "default: flakes and curls 0.3, grains 0; grains that let light through are thin shells",
    )
    clear: Literal["water", "glass"] | None = Field(
        None, description="what drops are made of; default: water"
    )
    centre_m: Vector | None = Field(
        None,
        description="middle of the cloud, or the place that they fall from; default: the eyes, or "
        "where those of a seated sitter would be",
    )
    spread_m: tuple[Extent, Extent, Extent] = Field(
        (0.6, 0.6, 0.2),
        description="width, height and depth of the cloud; of a fall, what it has drifted apart to",
    )
    shape: Literal["ellipsoid", "box"] = Field(
        "ellipsoid",
        description="an ellipsoid is densest in the middle and thins out to nothing, a box is even",
    )
    falls_m: float | None = Field(
        None,
        gt=0,
        le=5,
        description="let go from centre_m one after the other, how far down the first of them are",
    )
    seed: int = Field(
        0, ge=0, le=2**31 - 1, description="another number, another throw; the same, the same"
    )
    on: bool = Field(True, description="false leaves it out of the picture, as for the clean plate")
