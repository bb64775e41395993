"""Place a whole scene in the room and say what cannot stand where."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.emission.output import Output
from render.errors import SceneError
from render.layout.fits import check_front, check_sitter
from render.layout.fits_room import check_backdrop, check_panel, check_room
from render.layout.lamps import key_index, place_light
from render.layout.lens import view
from render.layout.panels import Around, panel_sheets
from render.layout.people import Anchor, anchors_of, eyes_of, seat
from render.layout.placed import Cloud, Layout, Sheet, View
from render.layout.points import Stand, backdrop_anchors, cheek_anchors, points
from render.layout.scatter import check_cloud, middle_m, scatter
from render.layout.walls import room_box, stand_backdrop, walls
from render.scenefile import Setup
from render.sitter.body import Body

Floats = NDArray[np.float64]
HALF_EYE_SPACING_M = 0.031  # half of a mean adult interpupillary distance, from memory


def place(setup: Setup, seated: Body | None = None, *, spots: bool = True) -> Layout:
    """Everything of the scene in room axes.

    seated : the sitter as another call has seated them, where sitter and camera are the same
    spots  : False leaves out the patches of points, which only spot readings ask for
    Raises SceneError where something is missing or cannot stand where the scene puts it.
    """
    scene = setup.scene
    eyes = eyes_of(scene.sitter)
    lens = _lens(setup, eyes)
    box, sheets = _room(setup, lens)
    body = None
    if scene.sitter is not None:
        check_sitter(setup, scene.sitter)
        body = seated or seat(setup.file, scene.sitter, None if lens is None else lens.position_m)
    anchors = {"eyes": Anchor(eyes, np.array([0.0, 0.0, 1.0]), "free")}
    anchors |= anchors_of(body) if body is not None else {}
    if scene.backdrop is not None:
        anchors |= backdrop_anchors(sheets[-1], eyes, lens)
    elements = [scatter(setup, name, eyes) for name in scene.element]
    for cloud in elements:
        check_cloud(setup, cloud, sheets, box)
    anchors |= _middles(setup, elements, anchors)
    anchors |= _free_anchors(setup)

    fronts, outputs = _fronts(setup, anchors, box, body)
    key = key_index(scene.light)
    anchors |= cheek_anchors(anchors, fronts[key])
    around = Around(anchors, fronts, lens, box)
    for name in scene.panel:
        leaves = panel_sheets(setup, name, around)
        check_panel(setup, name, leaves, around, body)
        sheets += leaves
    return Layout(
        fronts=fronts,
        sheets=tuple(sheets),
        body=body,
        view=lens,
        points=points(setup, Stand(anchors, body, fronts, lens, box), spots),
        key=key,
        calibrations=tuple(output.calibration for output in outputs),
        elements=tuple(each for each in elements if setup.scene.element[each.name].on),
    )


def _room(setup: Setup, lens: View | None) -> tuple[Floats | None, list[Sheet]]:
    """Corners of the room (2, 3) [m], None in the void; its walls and the backdrop as the last."""
    room, backdrop = setup.scene.room, setup.scene.backdrop
    box = None if room is None else room_box(room, backdrop)
    if backdrop is not None:
        check_backdrop(setup, backdrop, box)
    sheets: list[Sheet] = []
    if room is not None and box is not None:
        check_room(setup, room, box, lens)
        sheets = walls(setup, room, box)
    return box, sheets if backdrop is None else stand_backdrop(setup, backdrop, sheets)


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
    lens = view(scene.camera, eyes, near_eye)
    if lens.focus_m <= lens.focal_length_m:
        raise SceneError(
            setup.file,
            "camera.focal_length_mm",
            f"found {scene.camera.focal_length_mm:g}, cannot focus on the sitter",
            f"below {1000 * lens.focus_m:.0f}, or a greater distance_m",
        )
    return lens


def _middles(setup: Setup, elements: list[Cloud], known: dict[str, Anchor]) -> dict[str, Anchor]:
    """The middle of each element under its own name, facing the camera."""
    for cloud in elements:
        if cloud.name in known:
            wanted = "another name: it is a landmark"
            raise SceneError(setup.file, f"element.{cloud.name}", "found as a name", wanted)
    ahead = np.array([0.0, 0.0, 1.0])
    return {
        name: Anchor(middle_m(element, known["eyes"].position_m), ahead, "free")
        for name, element in setup.scene.element.items()
    }


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
        front, output = place_light(setup, name, anchors)
        check_front(setup, front, box, body)
        fronts.append(front)
        outputs.append(output)
    if all(front.luminous_energy_lm_s == 0 for front in fronts):
        raise SceneError(setup.file, "light", "every light is off", "at least one with on = true")
    return tuple(fronts), outputs
