"""What stands in the room, as plain numbers for the page's plan and elevation."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.card.outlines import PLAN, SIDE, outline, sitter
from render.card.words import room_box, spoken
from render.emission import Front, room_from_local
from render.emission.shapes import rim
from render.layout import Layout, View
from render.layout.people import eyes_of
from render.scenefile import Setup

Floats = NDArray[np.float64]

ROUND = 24  # corners that stand for a circle
PLACES = 4  # decimals of metres: tenths of a millimetre


def numbers(values: Any, places: int = PLACES) -> Any:
    """An array as nested lists, rounded."""
    return np.round(np.asarray(values, float), places).tolist()


def room(layout: Layout) -> dict[str, float] | None:
    """Size of the room and where its corner is [m]; None in the void."""
    box = room_box(layout)
    if box is None:
        return None
    width, height, depth = numbers(box[1] - box[0])
    left, back = numbers(box[0, [0, 2]])
    return {
        "width_m": width,
        "depth_m": depth,
        "height_m": height,
        "left_m": left,
        "back_m": back,
    }


def camera(setup: Setup, layout: Layout) -> dict[str, Any] | None:
    """The camera, what it is aimed at and the corners of its frame in the plane of focus."""
    view, asked = layout.view, setup.scene.camera
    if view is None or asked is None:
        return None
    x, y, z = numbers(view.position_m)
    return {
        "x": x,
        "y": y,
        "z": z,
        "target": numbers(view.position_m - view.focus_m * view.back),
        "iso_speed": asked.iso_speed,
        "f_number": asked.f_number,
        "shutter_s": asked.shutter_s,
        "focal_length_mm": asked.focal_length_mm,
        "distance_m": asked.distance_m,
        "height_m": asked.height_m,
        "aim_height_m": asked.aim_height_m,
        "frame": numbers(_frame(view)),
    }


def _frame(view: View) -> Floats:
    """Corners (4, 3) of the frame where the lens is focused, from its lower left."""
    across = 0.5 * view.frame_width_m / view.image_m * view.right
    upwards = 0.5 * view.frame_height_m / view.image_m * view.up
    rays = np.stack([-across - upwards, across - upwards, across + upwards, upwards - across])
    return view.position_m + view.focus_m * (rays - view.back)


def outlines(setup: Setup, layout: Layout) -> dict[str, Any] | None:
    """Eyes and outlines of shoulders and head, from above (x, z) and from the side (z, y)."""
    if layout.body is None:
        return None
    return {
        "eyes": numbers(eyes_of(setup.scene.sitter)),
        "plan": [numbers(part[:, ::-1]) for part in sitter(layout, PLAN)],
        "side": [numbers(part) for part in sitter(layout, SIDE)],
    }


def elements(layout: Layout) -> list[dict[str, Any]]:
    """What is in the air, with the outline of where it is: from above (x, z), from the side."""
    return [
        {
            "name": spoken(cloud.name),
            "kind": cloud.kind,
            "middle": numbers(cloud.centres_m.mean(axis=0)),
            "plan": numbers(outline(cloud.centres_m, PLAN)[:, ::-1]),
            "side": numbers(outline(cloud.centres_m, SIDE)),
        }
        for cloud in layout.elements
    ]


def backdrop(layout: Layout) -> dict[str, Any] | None:
    """Corners of the backdrop's upright part, and how far its sweep comes out [m]."""
    sheet = next((each for each in layout.sheets if each.kind == "backdrop"), None)
    if sheet is None:
        return None
    bend = sheet.bend
    sweep = 0.0 if bend is None else bend.radius_m + bend.floor_m
    return {"corners": numbers(sheet.corners_m), "sweep_m": round(sweep, PLACES)}


def front_corners(front: Front) -> list[list[float]]:
    """The outline of a front in the room."""
    flat = rim(front.shape, front.width_m, front.height_m, ROUND)
    corners: list[list[float]] = numbers(room_from_local(front, np.c_[flat, np.zeros(len(flat))]))
    return corners
