"""Who sits: which head, skin, hair, face and clothes, turned which way, looking where."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from render.studio.part import Part, Reflectance, Vector

Colour = tuple[Reflectance, Reflectance, Reflectance]
Clothed = Annotated[float, Field(ge=0.01, le=0.9)]


class Sitter(Part):
    """The person in front of the camera. What is left out is the sitter's own."""

    model: str = Field("alma", description="name of a bundled sitter")
    skin_reflectance: float | None = Field(
        None,
        ge=0.05,
        le=0.6,
        description="luminous reflectance of plain facial skin, its gloss left out",
    )
    hair: str | None = Field(None, description="hair style")
    hair_colour: str | None = Field(None, description="hair colour")
    greying: float | None = Field(None, ge=0, le=1, description="share of white hairs")
    beard: str | None = Field(None, description="beard")
    eye_colour: str | None = Field(None, description="colour of the iris")
    expression: str | None = Field(None, description="expression")
    glasses: str | None = Field(None, description="glasses")
    top: str | None = Field(None, description="what is worn")
    top_colour: Colour | None = Field(
        None, description="colour of the top: red, green, blue as linear reflectances"
    )
    top_reflectance: Clothed | None = Field(
        None, description="luminous reflectance of the top; scales its colour"
    )
    headwear: str | None = Field(None, description="what is worn on the head")
    headwear_colour: Colour | None = Field(
        None, description="its colour: red, green, blue as linear reflectances"
    )
    eyes_height_m: float = Field(1.2, ge=0.4, le=2.2, description="floor to eyes")
    turn_deg: float = Field(
        0, ge=-180, le=180, description="where the body faces: 0 camera, negative camera left"
    )
    head_turn_deg: float = Field(
        0, ge=-60, le=60, description="head against the body, negative camera left"
    )
    head_nod_deg: float = Field(0, ge=-30, le=30, description="chin, positive is down")
    head_tilt_deg: float = Field(
        0, ge=-30, le=30, description="head towards a shoulder, positive to camera right"
    )
    gaze: str | Vector = Field(
        "camera",
        description='what the eyes look at: "camera", "ahead" or a place x, y, z in metres',
    )
