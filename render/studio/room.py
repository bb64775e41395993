"""The room and what stands in it besides sitter and lights: backdrop and panels."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from render.studio.part import Part, Reflectance, Sides, Vector
from render.studio.surface import TONE_WORDS, Colour, Tone


class Door(Part):
    """A door that opens into the room and is kept clear."""

    wall: Literal["camera left", "camera right", "back", "camera"] = Field(
        description="the wall that it is in"
    )
    from_m: float = Field(
        ge=0,
        le=30,
        description="from the corner to its nearer side: from the back corner in a side wall, "
        "else from the camera-left corner",
    )
    width_m: float = Field(0.8, ge=0.4, le=4, description="of the opening")


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
    walls: Tone = Field(0.7, description=f"all four: {TONE_WORDS}")
    camera_left_wall: Tone | None = Field(None, description="this wall alone, say a black drape")
    camera_right_wall: Tone | None = Field(None, description="this wall alone")
    back_wall: Tone | None = Field(None, description="this wall alone, behind the backdrop")
    camera_wall: Tone | None = Field(None, description="this wall alone, behind the camera")
    ceiling: Tone = Field(0.8, description=TONE_WORDS)
    floor: Tone = Field(0.25, description=TONE_WORDS)
    ambient_lx: float | None = Field(
        None, ge=0, le=1e5, description="other light at the sitter's face: windows, ceiling lamps"
    )
    door: Door | None = None


class Backdrop(Part):
    """What is seen behind the sitter, facing the camera."""

    kind: Literal["paper", "cloth", "wall"] = Field(
        "cloth",
        description="paper hangs from a roll and sweeps out over the floor, cloth hangs straight "
        "down to the floor, wall is the back wall itself",
    )
    gap_m: float = Field(ge=0.3, le=15, description="from the origin back to the sheet or wall")
    width_m: float = Field(2.72, gt=0.2, le=15, description="width of the roll or cloth")
    height_m: float = Field(2.2, gt=0.2, le=10, description="from the floor to its top")
    offset_m: float = Field(0, ge=-10, le=10, description="its middle, + is camera right")
    sweep_radius_m: float = Field(
        0.4, ge=0.05, le=5, description="paper: radius of the bend from upright to floor"
    )
    sweep_floor_m: float = Field(
        1.0, ge=0, le=15, description="paper: length that lies flat in front of the bend"
    )
    colour: Colour | str | None = Field(
        None, description="red, green, blue as linear reflectances, or a surface of the kit"
    )
    reflectance: float | None = Field(
        None,
        ge=0.002,  # black velvet and flock; from memory
        le=0.95,
        description="luminous reflectance, scales the colour; default 0.18 without a colour "
        "(typical: white 0.85, grey 0.18, black 0.045)",
    )


class Guard(Part):
    """A place for a flag: in the light that one lamp throws towards a point."""

    light: str = Field(description="the light it is put in front of")
    point: str | Vector = Field(
        description='what it keeps dark: "camera", a landmark, a point, or a place x, y, z'
    )
    distance_m: float = Field(gt=0, le=15, description="from the middle of the light's front")


PanelKind = Literal["white", "silver", "black"]


class Panel(Part):
    """A panel on a stand: reflector, flag or V-flat. Place it in one of three ways: position_m,
    azimuth with distance_m, or guards."""

    kind: PanelKind = Field("white", description="white and black are matte, silver is glossy")
    back: PanelKind | None = Field(None, description="its other side; default: the same")
    reflectance: Reflectance | None = Field(
        None, description="luminous reflectance; default: white 0.65, silver 0.85, black 0.05"
    )
    back_reflectance: Reflectance | None = Field(
        None, description="of the other side; default: the same, or by the kind of back"
    )
    size_cm: Sides = Field(description="width and height; of a V-flat, of one leaf")
    opening_deg: float | None = Field(
        None,
        ge=20,
        le=180,
        description="makes it a V-flat: angle between two leaves hinged at their upright sides; "
        "the hollow side is the front",
    )
    position_m: Vector | None = Field(
        None, description="its middle (hinge): x camera right, y up, z to the camera"
    )
    around: str = Field(
        "eyes", description="point that azimuth, elevation and distance are measured from"
    )
    azimuth_deg: float | None = Field(
        None, ge=-180, le=180, description="0 towards the camera, negative camera left"
    )
    elevation_deg: float = Field(0, ge=-90, le=90, description="above the point")
    distance_m: float | None = Field(
        None, ge=0.05, le=15, description="from the point to its middle (hinge)"
    )
    guards: Guard | None = None
    facing: str | Vector | None = Field(
        None,
        description="what its front faces: a landmark, a point, or a place x, y, z in metres; "
        "default: around, or the light it guards from",
    )
    mirrors: str | None = Field(
        None,
        description="instead of facing: a light; tilted so that it mirrors that light to around",
    )
    roll_deg: float = Field(0, ge=-180, le=180, description="turned about its own axis")
