"""Walls, backdrop and panels as matte sheets."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import facing, unit
from render.layout.placed import Sheet
from render.studio.room import Backdrop, Panel, Room

Floats = NDArray[np.float64]
WALL_BEHIND_BACKDROP_M = 0.2  # room for the roll and its stands; common practice, no source


def room_box(room: Room, backdrop: Backdrop | None) -> Floats:
    """Corners of the room (2, 3) [m]: least and greatest x, y, z."""
    left = room.width_m / 2 if room.left_wall_m is None else room.left_wall_m
    if room.back_wall_m is not None:
        back = room.back_wall_m
    elif backdrop is not None:
        back = backdrop.gap_m + WALL_BEHIND_BACKDROP_M
    else:
        back = room.depth_m / 2
    low = np.array([-left, 0.0, -back])
    return np.stack([low, low + [room.width_m, room.height_m, room.depth_m]])


def walls(room: Room, box: Floats) -> list[Sheet]:
    """The six inner faces of the room, facing inwards."""
    middle, size = box.mean(0), box[1] - box[0]
    faces = [
        ("floor", (0, 1, 0), room.floor),
        ("ceiling", (0, -1, 0), room.ceiling),
        ("back wall", (0, 0, 1), room.walls),
        ("camera wall", (0, 0, -1), room.walls),
        ("camera-left wall", (1, 0, 0), room.walls),
        ("camera-right wall", (-1, 0, 0), room.walls),
    ]
    sheets = []
    for name, axis, rho in faces:
        normal = np.array(axis, float)
        right, up = facing(normal)
        width, height = abs(size @ right), abs(size @ up)
        centre = middle - normal * size / 2
        grey = (rho, rho, rho)
        sheets.append(Sheet(name, "wall", centre, right, up, width, height, grey, grey))
    return sheets


def backdrop_sheet(backdrop: Backdrop) -> Sheet:
    """The backdrop, hanging to the floor and facing the camera."""
    centre = np.array([backdrop.offset_m, backdrop.height_m / 2, -backdrop.gap_m])
    right, up = facing(np.array([0.0, 0.0, 1.0]))
    grey = (backdrop.reflectance,) * 3
    return Sheet(
        "backdrop", "backdrop", centre, right, up, backdrop.width_m, backdrop.height_m, grey, grey
    )


def panel_sheet(name: str, panel: Panel, faced: Floats) -> Sheet:
    """A panel, facing the point `faced` (3,) [m]."""
    centre = np.array(panel.position_m)
    right, up = facing(unit(faced - centre))
    grey = (panel.reflectance,) * 3
    width, height = panel.size_cm[0] / 100, panel.size_cm[1] / 100
    return Sheet(name, "panel", centre, right, up, width, height, grey, grey)
