"""Who sits: which head, how light the skin, which hair, turned which way."""

from __future__ import annotations

from pydantic import Field

from render.studio.part import Part


class Sitter(Part):
    """The person in front of the camera."""

    model: str = Field("alma", description="name of a bundled sitter")
    skin_reflectance: float | None = Field(
        None,
        ge=0.05,
        le=0.6,
        description="luminous reflectance of plain facial skin; default: the sitter's own",
    )
    hair: str | None = Field(None, description="hair style; default: the sitter's own")
    hair_colour: str | None = Field(None, description="hair colour; default: the sitter's own")
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
