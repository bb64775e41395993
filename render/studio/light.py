"""A light: a flash head with a modifier, where it stands, what it is for."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from render.studio.gel import Kelvin
from render.studio.part import POWER_WORDS, Part, Power, Sides, Vector

Role = Literal["key", "fill", "hair", "rim", "background"]
ROLES: tuple[str, ...] = ("key", "fill", "hair", "rim", "background")


class BarnDoors(Part):
    """Four black plates hinged at the opening; leave out the ones that are not there.

    Sides are as seen from behind the light, looking the way it shines.
    """

    left_deg: float | None = Field(None, ge=0, le=90, description="from straight ahead; 90 open")
    right_deg: float | None = Field(None, ge=0, le=90, description="the same")
    top_deg: float | None = Field(None, ge=0, le=90, description="the same")
    bottom_deg: float | None = Field(None, ge=0, le=90, description="the same")
    length_cm: float = Field(17, ge=2, le=80, description="from hinge to edge")


class Boom(Part):
    """Puts it on a boom, a level arm: the head at one end, the counterweight on the tail."""

    arm_m: float = Field(1.5, ge=0.1, le=5, description="from the head to the stand")
    tail_m: float = Field(0.5, ge=0.05, le=3, description="from the stand to the counterweight")
    weight_kg: float | None = Field(None, ge=0, le=60, description="counterweight on the tail")
    azimuth_deg: float | None = Field(
        None,
        ge=-180,
        le=180,
        description="where the tail points from the head; default: sideways out of the picture",
    )


class Light(Part):
    """One flash head. Place it by azimuth, elevation and distance, or by position_m."""

    role: Role | None = Field(
        None, description="what it is for; default: its name, where that is a role"
    )
    flash: str | None = Field(None, description="flash head, a name in the kit")
    modifier: str | None = Field(None, description="modifier, a name in the kit")
    size_cm: Sides | None = Field(
        None, description="instead of a modifier: a plain even front, width and height"
    )
    power: Power = Field(1.0, description=POWER_WORDS)
    luminous_energy_lm_s: float | None = Field(
        None,
        gt=0,
        le=1e7,
        description="instead of a flash: light that leaves the cloth at full power",
    )
    grid_deg: float | None = Field(
        None,
        ge=5,
        le=75,
        description="grid, fabric on a cloth, honeycomb on metal: angle off the axis beyond "
        "which no light leaves (tangent = cell width over depth)",
    )
    grid: str | None = Field(None, description="instead: a grid of the kit, by its cells")
    diffusers: int | None = Field(
        None, ge=0, le=3, description="cloths on it now; default: as many as it comes with"
    )
    doors: BarnDoors | None = None
    gel: tuple[str, ...] = Field((), description="gels before it, names in the kit; they multiply")
    nd: float = Field(
        0, ge=0, le=3, description="neutral sheet before it: optical density, 0.3 is one stop"
    )
    colour_temperature_k: Kelvin | None = Field(
        None, description="of the bare lamp; default: the flash's, with its drift, or 5500"
    )
    around: str = Field(
        "eyes", description="point that azimuth, elevation and distance are measured from"
    )
    azimuth_deg: float | None = Field(
        None, ge=-180, le=180, description="0 towards the camera, negative camera left"
    )
    elevation_deg: float = Field(0, ge=-89, le=89, description="above the point")
    distance_m: float | None = Field(
        None, ge=0.15, le=15, description="from the point to the middle of the front"
    )
    position_m: Vector | None = Field(
        None, description="middle of the front: x camera right, y up, z to the camera"
    )
    aim: str | Vector | None = Field(
        None, description="where the front faces: landmark, point or x, y, z; default: around"
    )
    roll_deg: float = Field(
        0, ge=-180, le=180, description="front turned about its axis; 90 lays an upright box down"
    )
    fixed: bool = Field(False, description="true keeps its power when lights are balanced")
    on: bool = Field(True, description="false leaves it standing there, unfired")
    stand: Literal["stand", "boom", "none"] = Field(
        "stand", description="what holds it up; none is a clamp, a rail or a hand"
    )
    boom: Boom | None = None
    bag_kg: float = Field(0, ge=0, le=60, description="sand bag on its stand")
    leg_radius_m: float = Field(
        0.5, ge=0.1, le=1.5, description="from the middle of its stand to the end of a leg"
    )
