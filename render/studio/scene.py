"""A whole set-up, as its scene file says it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from render.studio.camera import Camera, Meter
from render.studio.element import Element
from render.studio.light import Light
from render.studio.part import WISHED_WORDS, Name, Part, ShownFNumber, Vector
from render.studio.room import Backdrop, Panel, Room
from render.studio.sitter import Sitter


class Point(Part):
    """A place where the meter is held: a landmark, or a position with a facing."""

    landmark: str | None = Field(None, description="a landmark of the sitter or the backdrop")
    position_m: Vector | None = Field(None, description="x camera right, y up, z to the camera")
    facing: str | Vector = Field(
        "camera", description='"camera", a light\'s name, or a direction x, y, z'
    )


class Wish(Part):
    """A reading you want."""

    point: str = Field(description="meter point or landmark")
    light: str = Field("all", description="a light's name, or all together")
    f_number: ShownFNumber | None = Field(None, description=WISHED_WORDS)
    stops: float | None = Field(
        None, ge=-12, le=6, description="instead: stops from the first wish with an f-number"
    )
    range_stops: tuple[float, float] | None = Field(
        None,
        description="how far below and above it the reading may lie, such as [-0.5, 0.3]; "
        "default: exactly",
    )
    weight: float | None = Field(
        None,
        gt=0,
        le=100,
        description="how much its miss counts where wishes contradict each other; default: 10 for "
        "an f-number, 1 for stops",
    )


class Scene(Part):
    """One set-up."""

    title: str = Field(min_length=1, description="shown on tables and cards")
    kit: tuple[str, ...] = Field(
        (), description="your own kit files beside the scene, read after the bundled kit"
    )
    present: tuple[Literal["children", "powder"], ...] = Field(
        (),
        description='what else to be warned of: "children" in the room, "powder" in the air, such '
        "as flour, chalk or rosin dust",
    )
    room: Room | None = None
    backdrop: Backdrop | None = None
    sitter: Sitter | None = None
    camera: Camera | None = None
    meter: Meter = Meter()
    light: dict[Name, Light] = Field(min_length=1)
    panel: dict[Name, Panel] = {}
    element: dict[Name, Element] = {}
    point: dict[Name, Point] = {}
    wanted: dict[Name, Wish] = {}


Receptor = Literal["flat", "dome"]
Aim = Literal["light", "camera", "normal"]
