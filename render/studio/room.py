"""The room and what stands in it besides sitter and lights: backdrop and panels."""

from __future__ import annotations

from pydantic import Field

from render.studio.part import Part, Reflectance, Sides, Vector


class Room(Part):
    """The room. Leave it out for a black void without bounce."""

    width_m: float = Field(ge=1.5, le=30, description="across, camera left to camera right")
    depth_m: float = Field(ge=1.5, le=30, description="from the back wall to the wall behind you")
    height_m: float = Field(ge=1.8, le=12, description="floor to ceiling")
    back_wall_m: float | None = Field(
        None,
        gt=0,
        le=30,
        description="from the origin to the back wall; default: 0.2 behind the backdrop, "
        "or half the depth without one",
    )
    left_wall_m: float | None = Field(
        None,
        gt=0,
        le=30,
        description="from the origin to the camera-left wall; default: half the width",
    )
    walls: Reflectance = Field(0.7, description="luminous reflectance of the four walls")
    ceiling: Reflectance = Field(0.8, description="luminous reflectance")
    floor: Reflectance = Field(0.25, description="luminous reflectance")


class Backdrop(Part):
    """A sheet of paper or cloth behind the sitter, facing the camera."""

    gap_m: float = Field(ge=0.3, le=15, description="from the origin back to the sheet")
    width_m: float = Field(2.72, gt=0.2, le=15, description="width of the roll")
    height_m: float = Field(2.2, gt=0.2, le=10, description="from the floor to its top")
    offset_m: float = Field(0, ge=-10, le=10, description="its middle, + is camera right")
    reflectance: float = Field(
        0.18,
        ge=0.002,  # black velvet and flock; from memory
        le=0.95,
        description="luminous reflectance (typical: white 0.85, grey 0.18, black 0.045)",
    )


class Panel(Part):
    """A white, grey or black panel on a stand; matte, the same on both sides."""

    position_m: Vector = Field(description="its middle: x camera right, y up, z to the camera")
    facing: str | Vector = Field(
        "eyes", description="what it faces: a landmark, a point, or a place x, y, z in metres"
    )
    size_cm: Sides = Field(description="width and height")
    reflectance: Reflectance = Field(
        0.65, description="luminous reflectance (typical: white 0.65, black 0.05)"
    )
