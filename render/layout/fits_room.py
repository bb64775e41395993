"""Say what does not fit into the room: sitter and camera, papers too wide or too long, panels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import Front, local_from_room
from render.errors import SceneError
from render.layout.fits import check_inside, in_sitter, refuse
from render.layout.panels import Around
from render.layout.placed import Sheet, View
from render.scenefile import Setup
from render.sitter.body import Body
from render.studio.room import Backdrop, Room

Floats = NDArray[np.float64]
HEAD_ABOVE_EYES_M = 0.13  # eyes to crown, adult; from memory
PANEL_CHECKS = 17  # places across a panel that must not lie in the sitter; 6 cm apart on a metre
INNER_SHARE = 0.7  # of a light's extent that lies inside it even if it is round
UPRIGHT_LEAST_M = 0.2  # of a paper above its bend; below that it is no backdrop


def check_room(setup: Setup, room: Room, box: Floats, lens: View | None) -> None:
    """Sitter and camera inside the room, `box` (2, 3) [m]; raises SceneError."""
    scene = setup.scene
    back, left = -box[0, 2], -box[0, 0]
    for key, found, most in (
        ("room.back_wall_m", back, room.depth_m),
        ("room.left_wall_m", left, room.width_m),
    ):
        refuse(
            found >= most,
            setup,
            key,
            f"{found:g} m puts the sitter outside the room",
            f"below {most:g} m",
        )
    ceiling = box[1, 1]
    if scene.sitter is not None:
        refuse(
            scene.sitter.eyes_height_m + HEAD_ABOVE_EYES_M >= ceiling,
            setup,
            "sitter.eyes_height_m",
            "the head is above the ceiling",
            f"below {ceiling - HEAD_ABOVE_EYES_M:.2f} m",
        )
    if lens is not None:
        refuse(
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
        refuse(key in given and not paper, setup, f"backdrop.{key}", "found without paper", wanted)
    if box is not None:
        _check_gap(setup, backdrop, box)
    if backdrop.kind == "wall":
        _check_painted_wall(setup, backdrop)
        return
    refuse(
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
    refuse(
        paper and backdrop.sweep_radius_m + backdrop.sweep_floor_m > front,
        setup,
        "backdrop.sweep_floor_m",
        f"{backdrop.sweep_floor_m:g} m runs the paper into the camera wall",
        f"at most {front - backdrop.sweep_radius_m:.2f} m",
    )


def _check_gap(setup: Setup, backdrop: Backdrop, box: Floats) -> None:
    deepest = min(-float(box[0, 2]), float(box[1, 2] - box[0, 2]))
    behind = backdrop.gap_m > deepest if backdrop.kind == "wall" else backdrop.gap_m >= deepest
    refuse(
        behind,
        setup,
        "backdrop.gap_m",
        f"{backdrop.gap_m:g} m is behind the back wall",
        f"below {deepest:g} m",
    )


def _check_painted_wall(setup: Setup, backdrop: Backdrop) -> None:
    """The back wall as backdrop: there is one, it is where it is said to be, in one colour."""
    room = setup.scene.room
    if room is None:
        raise SceneError(setup.file, "backdrop.kind", "found a wall without a room", "a [room]")
    for key in ("width_m", "height_m", "offset_m"):
        wanted = "leave it out: the wall has the size of the room"
        found = key in backdrop.model_fields_set
        refuse(found, setup, f"backdrop.{key}", "found with a wall", wanted)
    refuse(
        room.back_wall_m not in (None, backdrop.gap_m),
        setup,
        "backdrop.gap_m",
        f"found {backdrop.gap_m:g}, and room.back_wall_m {room.back_wall_m or 0:g}",
        "one of the two: the backdrop is the back wall",
    )
    painted = backdrop.colour is not None or backdrop.reflectance is not None
    refuse(
        painted and room.back_wall is not None,
        setup,
        "room.back_wall",
        "the wall is painted by [backdrop] too",
        "one of the two",
    )


def _check_hung(setup: Setup, backdrop: Backdrop, box: Floats) -> None:
    widest = 2 * min(backdrop.offset_m - box[0, 0], box[1, 0] - backdrop.offset_m)
    refuse(
        backdrop.width_m > widest,
        setup,
        "backdrop.width_m",
        f"{backdrop.width_m:g} m does not fit between the walls",
        f"at most {widest:.2f} m",
    )
    refuse(
        backdrop.height_m > box[1, 1],
        setup,
        "backdrop.height_m",
        f"{backdrop.height_m:g} m is above the ceiling",
        f"at most {box[1, 1]:g} m",
    )


def check_panel(
    setup: Setup, name: str, leaves: list[Sheet], around: Around, body: Body | None
) -> None:
    """A panel inside the room and outside of sitter and lights; raises SceneError."""
    across = np.linspace(-0.5, 0.5, PANEL_CHECKS)
    u, v = (each.reshape(-1, 1) for each in np.meshgrid(across, across))
    for sheet in leaves:
        check_inside(setup, f"panel.{name}", "the panel", sheet.corners_m, around.box)
        places = sheet.centre_m + u * sheet.width_m * sheet.right + v * sheet.height_m * sheet.up
        if body is not None:
            refuse(
                in_sitter(body, places),
                setup,
                f"panel.{name}",
                "the panel cuts into the sitter",
                "a greater distance, or a smaller panel",
            )
        for front in around.fronts:
            refuse(
                _in_light(front, places),
                setup,
                f"panel.{name}",
                f"the panel cuts into light.{front.name}",
                "a place in front of the light or beside it",
            )


def _in_light(front: Front, places: Floats) -> bool:
    """Whether any of the places (n, 3) is surely inside a light's shell, whatever its outline."""
    half = 0.5 * INNER_SHARE * np.array([front.width_m, front.height_m])
    local = local_from_room(front, places)
    deep = (local[:, 2] > -INNER_SHARE * front.shell_depth_m) & (local[:, 2] < 0)
    return bool(np.any(deep & np.all(np.abs(local[:, :2]) < half, axis=1)))
