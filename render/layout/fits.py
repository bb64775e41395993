"""Say what a sitter cannot be and where a light cannot stand: in a wall, in the head."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.errors import SceneError
from render.layout.inside import inside
from render.photometry.srgb import luminance
from render.scenefile import Setup
from render.sitter import CHOICES
from render.sitter.body import Body
from render.sitter.cast import CAST
from render.sitter.own import SUFFIXES
from render.sitter.wishes import MOST_CLOTH
from render.studio.sitter import Sitter

Floats = NDArray[np.float64]
GAZES = ("camera", "ahead")
GAZE_RANGE_M = (0.1, 1000.0)  # from the eyes; nearer is in the head or touches it
MESH_KEYS = ("mesh_unit", "mesh_up", "mesh_faces", "landmarks")
WITH_MESH = (
    *("mesh", *MESH_KEYS, "skin_reflectance", "eyes_height_m", "turn_deg"),
    *("head_turn_deg", "head_nod_deg", "head_tilt_deg"),
)
FRONT_CHECKS = 9  # places across a front that must not lie in the head; closer than a head is wide
WALL_SLACK_M = 1e-6  # a panel may stand on the floor, whatever the rounding


def check_sitter(setup: Setup, sitter: Sitter) -> None:
    """Names that the sitter knows, and what goes with an own mesh; raises SceneError."""
    _check_mesh(setup, sitter)
    for key, accepted in CHOICES.items():
        found = getattr(sitter, key)
        if found is not None:
            refuse(
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
        refuse(gaze not in GAZES, setup, key, f'found "{gaze}"', known)
        return
    away = math.dist(gaze, (0.0, sitter.eyes_height_m, 0.0))
    refuse(
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
    refuse(
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
            refuse(key in given, setup, f"sitter.{key}", "found without a mesh", "only beside mesh")
        return
    refuse(
        Path(sitter.mesh).suffix.lower() not in SUFFIXES,
        setup,
        "sitter.mesh",
        f'found "{sitter.mesh}"',
        f"a file ending in {', '.join(SUFFIXES)}",
    )
    for key in (k for k in type(sitter).model_fields if k in given and k not in WITH_MESH):
        wanted = "with a mesh, leave it out: it comes as it was scanned"
        refuse(True, setup, f"sitter.{key}", "found together with mesh", wanted)
    for key in ("head_turn_deg", "head_nod_deg", "head_tilt_deg"):
        wanted = "0 with a mesh: its head is fixed to its neck; turn_deg turns the whole"
        refuse(getattr(sitter, key) != 0, setup, f"sitter.{key}", "found with mesh", wanted)


def refuse(wrong: bool, setup: Setup, key: str, found: str, accepted: str) -> None:
    if wrong:
        raise SceneError(setup.file, key, found, accepted)


def check_inside(setup: Setup, key: str, what: str, places: Floats, box: Floats | None) -> None:
    """All places (n, 3) [m] of a thing inside the room, if there is one; raises SceneError."""
    if box is None:
        return
    over = np.maximum(box[0] - places, places - box[1]).max(0)
    axis = int(np.argmax(over))
    wall = ("a side wall", "floor or ceiling", "the back or camera wall")[axis]
    refuse(
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
        refuse(
            in_sitter(body, places),
            setup,
            key,
            "its front is inside the sitter",
            "a greater distance_m",
        )


def in_sitter(body: Body, places: Floats) -> bool:
    """Whether any of the places (n, 3) is inside the skin."""
    skin = body.surfaces[0]
    axes = skin.vertices.T  # one by one: ten times as fast as the least of each row
    low, high = ([end(axis) for axis in axes] for end in (np.min, np.max))
    near = np.all((places > low) & (places < high), axis=1)
    if not near.any():
        return False
    return bool(inside(skin.vertices, skin.triangles, places[near]).any())
