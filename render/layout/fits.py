"""Say what cannot stand where the scene puts it: through a wall, behind a wall, in the head."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.errors import SceneError
from render.layout.placed import Sheet, View
from render.photometry.srgb import luminance
from render.scenefile import Setup
from render.sitter import CHOICES
from render.sitter.body import Body
from render.sitter.cast import CAST
from render.sitter.own import SUFFIXES
from render.sitter.wishes import MOST_CLOTH
from render.studio.room import Backdrop, Room
from render.studio.sitter import Sitter

Floats = NDArray[np.float64]
GAZES = ("camera", "ahead")
GAZE_RANGE_M = (0.1, 1000.0)  # from the eyes; nearer is in the head or touches it
MESH_KEYS = ("mesh_unit", "mesh_up", "mesh_faces", "landmarks")
WITH_MESH = (
    *("mesh", *MESH_KEYS, "skin_reflectance", "eyes_height_m", "turn_deg"),
    *("head_turn_deg", "head_nod_deg", "head_tilt_deg"),
)
HEAD_ABOVE_EYES_M = 0.13  # eyes to crown, adult; from memory
FRONT_CHECKS = 9  # places across a front that must not lie in the head; closer than a head is wide
PANEL_CHECKS = 17  # the same across a panel, which may be larger
UPRIGHT_LEAST_M = 0.2  # of a paper above its bend; below that it is no backdrop
WALL_SLACK_M = 1e-6  # a panel may stand on the floor, whatever the rounding


def check_sitter(setup: Setup, sitter: Sitter) -> None:
    """Names that the sitter knows, and what goes with an own mesh; raises SceneError."""
    _check_mesh(setup, sitter)
    for key, accepted in CHOICES.items():
        found = getattr(sitter, key)
        if found is not None:
            _refuse(
                found not in accepted,
                setup,
                f"sitter.{key}",
                f'found "{found}"',
                f"accepted: {', '.join(accepted)}",
            )
    _check_gaze(setup, sitter)
    if sitter.top_reflectance is not None:
        _check_top(setup, sitter, sitter.top_reflectance)


def _check_gaze(setup: Setup, sitter: Sitter) -> None:
    """A known word, or a place that both eyes can turn to."""
    key, gaze, (least, most) = "sitter.gaze", sitter.gaze, GAZE_RANGE_M
    if isinstance(gaze, str):
        known = f"accepted: {', '.join(GAZES)}, or a place x, y, z in metres"
        _refuse(gaze not in GAZES, setup, key, f'found "{gaze}"', known)
        return
    away = math.dist(gaze, (0.0, sitter.eyes_height_m, 0.0))
    _refuse(
        not least <= away <= most,
        setup,
        key,
        f"found {list(gaze)}, {away:.3g} m from the eyes",
        f"a place {least:g} to {most:g} m from them",
    )


def _check_top(setup: Setup, sitter: Sitter, wanted: float) -> None:
    """A reflectance that the colour of the top reaches without another hue."""
    colour = np.array(sitter.top_colour or CAST[sitter.model].top_colour)
    brightest = colour * MOST_CLOTH / max(float(colour.max()), 1e-6)
    most = math.floor(100 * float(luminance(brightest))) / 100
    _refuse(
        wanted > max(most, float(luminance(colour))),
        setup,
        "sitter.top_reflectance",
        f"found {wanted:g}, more than its colour can reflect",
        f"at most {most:g}, or a paler top_colour",
    )


def _check_mesh(setup: Setup, sitter: Sitter) -> None:
    """Keys of a bundled sitter and of an own mesh kept apart."""
    given = sitter.model_fields_set
    if sitter.mesh is None:
        for key in MESH_KEYS:
            _refuse(
                key in given, setup, f"sitter.{key}", "found without a mesh", "only beside mesh"
            )
        return
    _refuse(
        Path(sitter.mesh).suffix.lower() not in SUFFIXES,
        setup,
        "sitter.mesh",
        f'found "{sitter.mesh}"',
        f"a file ending in {', '.join(SUFFIXES)}",
    )
    for key in (k for k in type(sitter).model_fields if k in given and k not in WITH_MESH):
        wanted = "with a mesh, leave it out: it comes as it was scanned"
        _refuse(True, setup, f"sitter.{key}", "found together with mesh", wanted)
    for key in ("head_turn_deg", "head_nod_deg", "head_tilt_deg"):
        wanted = "0 with a mesh: its head is fixed to its neck; turn_deg turns the whole"
        _refuse(getattr(sitter, key) != 0, setup, f"sitter.{key}", "found with mesh", wanted)


def check_room(setup: Setup, room: Room, box: Floats, lens: View | None) -> None:
    """Sitter, backdrop and camera inside the room, `box` (2, 3) [m]; raises SceneError."""
    scene = setup.scene
    back, left = -box[0, 2], -box[0, 0]
    for key, found, most in (
        ("room.back_wall_m", back, room.depth_m),
        ("room.left_wall_m", left, room.width_m),
    ):
        _refuse(
            found >= most,
            setup,
            key,
            f"{found:g} m puts the sitter outside the room",
            f"below {most:g} m",
        )
    ceiling = box[1, 1]
    if scene.sitter is not None:
        _refuse(
            scene.sitter.eyes_height_m + HEAD_ABOVE_EYES_M >= ceiling,
            setup,
            "sitter.eyes_height_m",
            "the head is above the ceiling",
            f"below {ceiling - HEAD_ABOVE_EYES_M:.2f} m",
        )
    if lens is not None:
        _refuse(
            bool(np.any(lens.position_m <= box[0]) or np.any(lens.position_m >= box[1])),
            setup,
            "camera",
            "the lens is outside the room",
            f"distance_m below {box[1, 2]:.2f} and height_m below {ceiling:.2f}",
        )


def check_backdrop(setup: Setup, backdrop: Backdrop, box: Floats | None) -> None:
    """A backdrop whose keys go together and that fits into the room; raises SceneError."""
    given, paper = backdrop.model_fields_set, backdrop.kind == "paper"
    for key in ("sweep_radius_m", "sweep_floor_m"):
        wanted = 'only with kind = "paper"'
        _refuse(key in given and not paper, setup, f"backdrop.{key}", "found without paper", wanted)
    if box is not None:
        deepest = min(-float(box[0, 2]), float(box[1, 2] - box[0, 2]))
        behind = backdrop.gap_m > deepest if backdrop.kind == "wall" else backdrop.gap_m >= deepest
        _refuse(
            behind,
            setup,
            "backdrop.gap_m",
            f"{backdrop.gap_m:g} m is behind the back wall",
            f"below {deepest:g} m",
        )
    if backdrop.kind == "wall":
        _check_painted_wall(setup, backdrop)
        return
    _refuse(
        paper and backdrop.sweep_radius_m >= backdrop.height_m - UPRIGHT_LEAST_M,
        setup,
        "backdrop.sweep_radius_m",
        f"{backdrop.sweep_radius_m:g} m leaves no upright paper",
        f"below {backdrop.height_m - UPRIGHT_LEAST_M:g} m",
    )
    if box is None:
        return
    _check_hung(setup, backdrop, box)
    front = box[1, 2] + backdrop.gap_m
    _refuse(
        paper and backdrop.sweep_radius_m + backdrop.sweep_floor_m > front,
        setup,
        "backdrop.sweep_floor_m",
        f"{backdrop.sweep_floor_m:g} m runs the paper into the camera wall",
        f"at most {front - backdrop.sweep_radius_m:.2f} m",
    )


def _check_painted_wall(setup: Setup, backdrop: Backdrop) -> None:
    """The back wall as backdrop: there is one, it is where it is said to be, in one colour."""
    room = setup.scene.room
    if room is None:
        raise SceneError(setup.file, "backdrop.kind", "found a wall without a room", "a [room]")
    for key in ("width_m", "height_m", "offset_m"):
        wanted = "leave it out: the wall has the size of the room"
        found = key in backdrop.model_fields_set
        _refuse(found, setup, f"backdrop.{key}", "found with a wall", wanted)
    _refuse(
        room.back_wall_m not in (None, backdrop.gap_m),
        setup,
        "backdrop.gap_m",
        f"found {backdrop.gap_m:g}, and room.back_wall_m {room.back_wall_m or 0:g}",
        "one of the two: the backdrop is the back wall",
    )
    painted = backdrop.colour is not None or backdrop.reflectance is not None
    _refuse(
        painted and room.back_wall is not None,
        setup,
        "room.back_wall",
        "the wall is painted by [backdrop] too",
        "one of the two",
    )


def _check_hung(setup: Setup, backdrop: Backdrop, box: Floats) -> None:
    widest = 2 * min(backdrop.offset_m - box[0, 0], box[1, 0] - backdrop.offset_m)
    _refuse(
        backdrop.width_m > widest,
        setup,
        "backdrop.width_m",
        f"{backdrop.width_m:g} m does not fit between the walls",
        f"at most {widest:.2f} m",
    )
    _refuse(
        backdrop.height_m > box[1, 1],
        setup,
        "backdrop.height_m",
        f"{backdrop.height_m:g} m is above the ceiling",
        f"at most {box[1, 1]:g} m",
    )


def _refuse(wrong: bool, setup: Setup, key: str, found: str, accepted: str) -> None:
    if wrong:
        raise SceneError(setup.file, key, found, accepted)


def check_inside(setup: Setup, key: str, what: str, places: Floats, box: Floats | None) -> None:
    """All places (n, 3) [m] of a thing inside the room, if there is one; raises SceneError."""
    if box is None:
        return
    over = np.maximum(box[0] - places, places - box[1]).max(0)
    axis = int(np.argmax(over))
    wall = ("a side wall", "floor or ceiling", "the back or camera wall")[axis]
    _refuse(
        bool(over[axis] > WALL_SLACK_M),
        setup,
        key,
        f"{what} reaches {100 * over[axis]:.0f} cm through {wall}",
        "a place, size or direction inside the room",
    )


def check_front(setup: Setup, front: Front, box: Floats | None, body: Body | None) -> None:
    """A light's front inside the room and outside the sitter; raises SceneError."""
    key = f"light.{front.name}"
    across = np.linspace(-0.5, 0.5, FRONT_CHECKS)
    u, v = (each.reshape(-1, 1) for each in np.meshgrid(across, across))
    places = front.centre_m + u * front.width_m * front.right + v * front.height_m * front.up
    check_inside(setup, key, "its front", places, box)
    if body is not None:
        _refuse(
            _in_sitter(body, places),
            setup,
            key,
            "its front is inside the sitter",
            "a greater distance_m",
        )


def check_panel(
    setup: Setup, name: str, leaves: list[Sheet], box: Floats | None, body: Body | None
) -> None:
    """A panel inside the room and outside the sitter; raises SceneError."""
    across = np.linspace(-0.5, 0.5, PANEL_CHECKS)
    u, v = (each.reshape(-1, 1) for each in np.meshgrid(across, across))
    for sheet in leaves:
        check_inside(setup, f"panel.{name}", "the panel", sheet.corners_m, box)
        places = sheet.centre_m + u * sheet.width_m * sheet.right + v * sheet.height_m * sheet.up
        if body is not None:
            _refuse(
                _in_sitter(body, places),
                setup,
                f"panel.{name}",
                "the panel cuts into the sitter",
                "a greater distance, or a smaller panel",
            )


def _in_sitter(body: Body, places: Floats) -> bool:
    """Whether any of the places (n, 3) is inside the skin."""
    skin = body.surfaces[0]
    near = np.all((places > skin.vertices.min(0)) & (places < skin.vertices.max(0)), axis=1)
    if not near.any():
        return False
    import trimesh  # slow to load, and hardly ever needed

    head = trimesh.Trimesh(skin.vertices, skin.triangles, process=True)
    return bool(head.contains(places[near]).any())
