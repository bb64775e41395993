"""The camera: where it stands, its lens and its exposure."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from render.studio.gel import Kelvin
from render.studio.part import (
    APERTURE_WORDS,
    CROP_WORDS,
    SHUTTER_WORDS,
    Part,
    ShownFNumber,
    Shutter,
)

SensorSide = Annotated[float, Field(ge=1, le=300)]  # from a telephone to a large-format sheet


class Camera(Part):
    """The camera stands on the +z axis and looks at the sitter."""

    distance_m: float = Field(2.0, ge=0.3, le=15, description="from the origin to the lens")
    height_m: float | None = Field(
        None, gt=0, le=6, description="floor to lens; default: the sitter's eyes"
    )
    aim_height_m: float | None = Field(
        None,
        ge=0,
        le=6,
        description="height of the middle of the frame at the sitter; default: 0.12 below the eyes",
    )
    focal_length_mm: float = Field(85, ge=8, le=600, description="of the lens")
    sensor_mm: tuple[SensorSide, SensorSide] = Field((24, 36), description="short and long side")
    frame: Literal["upright", "level"] = Field("upright", description="how the camera is held")
    crop: str = Field(
        "4:5",
        pattern=r"^[1-9]\d?(\.\d+)?:[1-9]\d?(\.\d+)?$",
        description=CROP_WORDS,
    )
    iso_speed: float = Field(100, ge=6, le=409600, description="speed set on camera and meter")
    f_number: ShownFNumber = Field(8, description=APERTURE_WORDS)
    shutter_s: Shutter = Field(1 / 125, description=SHUTTER_WORDS)
    sync_s: Shutter | None = Field(
        None, description="shortest time at which it fires studio flash, from its handbook"
    )
    white_balance_k: Kelvin = Field(
        5500, description="light that looks neutral; the default is an ungelled studio flash"
    )


class Meter(Part):
    """The meter's own constants."""

    iso_speed: float | None = Field(
        None, ge=6, le=409600, description="default: the camera's, or 100 without a camera"
    )
    c_flat: float = Field(
        250, ge=240, le=400, description="receptor constant, flat [lx·s] (ISO 2720 range)"
    )
    c_dome: float = Field(
        340, ge=320, le=540, description="receptor constant, dome [lx·s] (ISO 2720 range)"
    )
