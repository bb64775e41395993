"""Place a whole scene in the room and say what cannot stand where."""

from __future__ import annotations

import numpy as np
import trimesh
from numpy.typing import NDArray

from render.emission import Front
from render.emission.output import Output
from render.errors import SceneError
from render.layout.geometry import unit
from render.layout.lamps import key_index, place_light
from render.layout.lens import view
from render.layout.people import Anchor, anchors_of, eyes_of, seat
from render.layout.placed import Layout, Sheet, View
from render.layout.points import backdrop_anchors, cheek_anchors, points
from render.layout.walls import backdrop_sheet, panel_sheet, room_box, walls
from render.scenefile import Setup
from render.sitter.body import Body

Floats = NDArray[np.float64]
HALF_EYE_SPACING_M = 0.031  # half of a mean adult interpupillary distance, from memory
HEAD_ABOVE_EYES_M = 0.13  # eyes to crown, adult; from memory


def place(setup: Setup) -> Layout:
    """Everything of the scene in room axes.

    Raises SceneError where something is missing or cannot stand where the scene puts it.
    """
    scene, file = setup.scene, setup.file
    eyes = eyes_of(scene.sitter)
    lens = _lens(setup, eyes)
    sheets: list[Sheet] = []
    box = None
    if scene.room is not None:
        box = room_box(scene.room, scene.backdrop)
        sheets += walls(scene.room, box)
        _check_room(setup, box, lens)
    body = None
    if scene.sitter is not None:
        body = seat(scene.sitter, None if lens is None else lens.position_m)
    anchors = {"eyes": Anchor(eyes, np.array([0.0, 0.0, 1.0]), "free")}
    anchors |= anchors_of(body) if body is not None else {}
    if scene.backdrop is not None:
        sheets.append(backdrop_sheet(scene.backdrop))
        anchors |= backdrop_anchors(sheets[-1], eyes, lens)
    anchors |= _free_anchors(setup)

    fronts, outputs = _fronts(setup, anchors, box, body)
    key = key_index(scene.light)
    anchors |= cheek_anchors(anchors, fronts[key])
    sheets += _panels(setup, anchors)
    return Layout(
        fronts=fronts,
        sheets=tuple(sheets),
        body=body,
        view=lens,
        points=points(setup, anchors, body, fronts, lens),
        key=key,
        calibrations=tuple(output.calibration for output in outputs),
    )


def _lens(setup: Setup, eyes: Floats) -> View | None:
    scene = setup.scene
    if scene.camera is None:
        return None
    near_eye = eyes.copy()
    if scene.sitter is not None:
        # The eye on the side that is turned to the camera is the nearer one.
        turned = np.radians(scene.sitter.turn_deg + scene.sitter.head_turn_deg)
        near_eye[0] -= np.sign(turned) * HALF_EYE_SPACING_M * np.cos(turned)
        near_eye[2] += HALF_EYE_SPACING_M * abs(np.sin(turned))
    return view(scene.camera, eyes, near_eye)


def _free_anchors(setup: Setup) -> dict[str, Anchor]:
    ahead = np.array([0.0, 0.0, 1.0])
    return {
        name: Anchor(np.array(point.position_m), ahead, "free")
        for name, point in setup.scene.point.items()
        if point.position_m is not None
    }


def _fronts(
    setup: Setup, anchors: dict[str, Anchor], box: Floats | None, body: Body | None
) -> tuple[tuple[Front, ...], list[Output]]:
    fronts, outputs = [], []
    for name in setup.scene.light:
        front, output, _ = place_light(setup, name, anchors)
        _check_front(setup, front, box, body)
        fronts.append(front)
        outputs.append(output)
    return tuple(fronts), outputs


def _panels(setup: Setup, anchors: dict[str, Anchor]) -> list[Sheet]:
    sheets = []
    for name, panel in setup.scene.panel.items():
        if isinstance(panel.facing, str):
            if panel.facing not in anchors:
                raise SceneError(
                    setup.file,
                    f"panel.{name}.facing",
                    f'no point "{panel.facing}"',
                    f"one of {', '.join(sorted(anchors))}",
                )
            faced = anchors[panel.facing].position_m
        else:
            faced = np.array(panel.position_m) + unit(np.array(panel.facing))
        sheets.append(panel_sheet(name, panel, faced))
    return sheets


def _check_room(setup: Setup, box: Floats, lens: View | None) -> None:
    scene, file = setup.scene, setup.file
    back, left, right = -box[0, 2], -box[0, 0], box[1, 0]
    for key, found, most in (
        ("room.back_wall_m", back, scene.room.depth_m if scene.room else 0.0),
        ("room.left_wall_m", left, scene.room.width_m if scene.room else 0.0),
    ):
        if found >= most:
            raise SceneError(
                file, key, f"{found:g} m puts the sitter outside the room", f"below {most:g} m"
            )
    if scene.backdrop is not None:
        backdrop = scene.backdrop
        if backdrop.gap_m >= back:
            raise SceneError(
                file,
                "backdrop.gap_m",
                f"{backdrop.gap_m:g} m is behind the back wall",
                f"below {back:g} m",
            )
        most = 2 * min(left + backdrop.offset_m, right - backdrop.offset_m)
        if backdrop.width_m > most:
            raise SceneError(
                file,
                "backdrop.width_m",
                f"{backdrop.width_m:g} m does not fit between the walls",
                f"at most {most:.2f} m",
            )
        if backdrop.height_m > box[1, 1]:
            raise SceneError(
                file,
                "backdrop.height_m",
                f"{backdrop.height_m:g} m is above the ceiling",
                f"at most {box[1, 1]:g} m",
            )
    if scene.sitter is not None and scene.sitter.eyes_height_m + HEAD_ABOVE_EYES_M >= box[1, 1]:
        raise SceneError(
            file,
            "sitter.eyes_height_m",
            "the head is above the ceiling",
            f"below {box[1, 1] - HEAD_ABOVE_EYES_M:.2f} m",
        )
    if lens is not None and not _inside(box, lens.position_m):
        raise SceneError(
            file,
            "camera",
            "the lens is outside the room",
            f"distance_m below {box[1, 2]:.2f} and height_m below {box[1, 1]:.2f}",
        )


def _inside(box: Floats, place: Floats) -> bool:
    return bool(np.all(place > box[0]) and np.all(place < box[1]))


def _check_front(setup: Setup, front: Front, box: Floats | None, body: Body | None) -> None:
    key = f"light.{front.name}"
    half_w, half_h = front.right * front.width_m / 2, front.up * front.height_m / 2
    corners = [front.centre_m + i * half_w + j * half_h for i in (-1, 1) for j in (-1, 1)]
    places = np.array([front.centre_m, *corners])
    if box is not None:
        over = np.maximum(box[0] - places, places - box[1]).max(0)
        axis = int(np.argmax(over))
        if over[axis] > 0:
            wall = ("a side wall", "floor or ceiling", "the back or camera wall")[axis]
            raise SceneError(
                setup.file,
                key,
                f"its front reaches {100 * over[axis]:.0f} cm through {wall}",
                "a place, size or roll_deg inside the room",
            )
    if body is not None and _in_sitter(body, places):
        raise SceneError(
            setup.file, key, "its front is inside the sitter", "a greater distance_m"
        )


def _in_sitter(body: Body, places: Floats) -> bool:
    """Whether any of the places (n, 3) is inside the skin."""
    skin = body.surfaces[0]
    near = np.all((places > skin.vertices.min(0)) & (places < skin.vertices.max(0)), axis=1)
    if not near.any():
        return False
    head = trimesh.Trimesh(skin.vertices, skin.triangles, process=True)
    return bool(head.contains(places[near]).any())
