"""Walls, floor, ceiling and backdrop as sheets, each in its own colour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout.geometry import facing
from render.layout.placed import Bend, Sheet
from render.photometry.srgb import luminance
from render.scenefile import Setup
from render.studio.room import Backdrop, Room
from render.studio.surface import Tone

Floats = NDArray[np.float64]
Rgb = tuple[float, float, float]
WALL_BEHIND_BACKDROP_M = 0.2  # room for the roll and its stands; common practice, no source
PAPER_LIFT_M = 2e-3  # a paper lies this far above the floor: it buckles; keeps the two apart
BACK_WALL = "back wall"
USUAL_BACKDROP = 0.18  # luminous reflectance of a mid grey
PALEST = 0.95  # no matte surface gives back more; fresh magnesia and plaster 0.93 to 0.98


def room_box(room: Room, backdrop: Backdrop | None) -> Floats:
    """Corners of the room (2, 3) [m]: least and greatest x, y, z."""
    left = room.width_m / 2 if room.left_wall_m is None else room.left_wall_m
    if room.back_wall_m is not None:
        back = room.back_wall_m
    elif backdrop is not None:
        back = backdrop.gap_m + (0 if backdrop.kind == "wall" else WALL_BEHIND_BACKDROP_M)
    else:
        back = room.depth_m / 2
    low = np.array([-left, 0.0, -back])
    return np.stack([low, low + [room.width_m, room.height_m, room.depth_m]])


def walls(setup: Setup, room: Room, box: Floats) -> list[Sheet]:
    """The six inner faces of the room, facing inwards; raises SceneError for an unknown name."""
    middle, size = box.mean(0), box[1] - box[0]
    faces = [
        ("floor", (0, 1, 0), "floor"),
        ("ceiling", (0, -1, 0), "ceiling"),
        (BACK_WALL, (0, 0, 1), "back_wall"),
        ("camera wall", (0, 0, -1), "camera_wall"),
        ("camera-left wall", (1, 0, 0), "camera_left_wall"),
        ("camera-right wall", (-1, 0, 0), "camera_right_wall"),
    ]
    sheets = []
    for name, axis, key in faces:
        normal = np.array(axis, float)
        right, up = facing(normal)
        width, height = abs(size @ right), abs(size @ up)
        centre = middle - normal * size / 2
        key = key if getattr(room, key) is not None else "walls"
        rgb = rgb_of(setup, f"room.{key}", getattr(room, key))
        sheets.append(Sheet(name, "wall", centre, right, up, width, height, rgb, rgb))
    return sheets


def rgb_of(setup: Setup, key: str, tone: Tone, reflectance: float | None = None) -> Rgb:
    """Linear sRGB reflectance (red, green, blue) of a grey, a colour or a surface of the kit.

    reflectance : luminous reflectance that the colour is scaled to; None leaves it
    raises      : SceneError for an unknown name, or a colour that cannot be as pale as that
    """
    if isinstance(tone, str):
        surfaces = setup.kit.surface
        if tone not in surfaces:
            known = f"one of {', '.join(sorted(surfaces))}"
            raise SceneError(setup.file, key, f'"{tone}" is not in the kit', known)
        surface = surfaces[tone]
        tone = surface.colour or (1.0, 1.0, 1.0)
        reflectance = surface.reflectance if reflectance is None else reflectance
    rgb = np.full(3, tone) if isinstance(tone, int | float) else np.array(tone, float)
    if reflectance is not None:
        share = float(luminance(rgb))
        if share == 0 and reflectance > 0:
            raise SceneError(setup.file, key, "black cannot be scaled", "a colour with some light")
        rgb = rgb * (reflectance / share if share > 0 else 0.0)
    if rgb.max() > PALEST:
        most = float(luminance(rgb * PALEST / rgb.max()))
        found = f"a reflectance of {float(luminance(rgb)):.2f} is more than this colour can reflect"
        raise SceneError(setup.file, key, found, f"at most {np.floor(100 * most) / 100:g}")
    return (float(rgb[0]), float(rgb[1]), float(rgb[2]))


def stand_backdrop(setup: Setup, backdrop: Backdrop, sheets: list[Sheet]) -> list[Sheet]:
    """The walls with the backdrop as their last: hung before them, or the back wall itself."""
    if backdrop.kind != "wall":
        return [*sheets, _hung(setup, backdrop)]
    wall = next(sheet for sheet in sheets if sheet.name == BACK_WALL)
    if backdrop.colour is not None or backdrop.reflectance is not None:
        rgb = _backdrop_rgb(setup, backdrop)
        wall = replace(wall, reflectance=rgb, back_reflectance=rgb)
    return [s for s in sheets if s.name != BACK_WALL] + [replace(wall, kind="backdrop")]


def _backdrop_rgb(setup: Setup, backdrop: Backdrop) -> Rgb:
    if backdrop.colour is None:
        grey = USUAL_BACKDROP if backdrop.reflectance is None else backdrop.reflectance
        return (grey, grey, grey)
    key = "backdrop.colour" if backdrop.reflectance is None else "backdrop.reflectance"
    if isinstance(backdrop.colour, str):
        key = "backdrop.colour"
    return rgb_of(setup, key, backdrop.colour, backdrop.reflectance)


def _hung(setup: Setup, backdrop: Backdrop) -> Sheet:
    """Cloth down to the floor, or paper whose upright part ends where its bend begins."""
    bend, foot = None, 0.0
    if backdrop.kind == "paper":
        bend = Bend(backdrop.sweep_radius_m, backdrop.sweep_floor_m)
        foot = backdrop.sweep_radius_m + PAPER_LIFT_M
    centre = np.array([backdrop.offset_m, 0.5 * (backdrop.height_m + foot), -backdrop.gap_m])
    right, up = facing(np.array([0.0, 0.0, 1.0]))
    rgb = _backdrop_rgb(setup, backdrop)
    width, height = backdrop.width_m, backdrop.height_m - foot
    return Sheet("backdrop", "backdrop", centre, right, up, width, height, rgb, rgb, bend=bend)
