"""Small sets for tests, built by hand: fronts, sheets, balls and the two reference rooms.

The reference rooms come in axes of their own: x right, y into the room, z up, origin in a corner
of the floor. `from_reference` takes them to ours: +x right, +y up, +z towards the camera.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

from render.emission import Front
from render.layout.placed import Layout, MeterPoint, Sheet
from render.sitter.body import Body, Cloth, Surface

Floats = NDArray[np.float64]

ROOM_WIDTH_M, ROOM_DEPTH_M, ROOM_HEIGHT_M = 4.0, 5.0, 2.6  # both reference rooms
SUBJECT = np.array([2.0, 2.5, 1.2])  # S of room B, reference axes [m]
REFERENCE_LUMINANCE = 1000.0  # of the lamp of either room [cd/m²]
BLACK = (0.0, 0.0, 0.0)


def from_reference(direction: Any) -> Floats:
    """A direction (..., 3) of the reference rooms in our axes: depth runs away from the camera."""
    x, y, z = np.moveaxis(np.asarray(direction, float), -1, 0)
    return np.stack([x, z, -y], -1)


def place_from_reference(place: Any) -> Floats:
    """A place (..., 3) [m] of the reference rooms in ours, origin on the floor under S."""
    return from_reference(np.asarray(place, float) - SUBJECT * [1, 1, 0])


def front(normal: Any = (0, 0, 1), centre: Any = (0, 0, 0), **changed: Any) -> Front:
    """A 0.6 x 0.9 m front of luminance 1 cd·s/m² that looks along `normal`, width level."""
    normal = np.asarray(normal, float) / np.linalg.norm(normal)
    level = np.cross([0.0, 1.0, 0.0], normal)
    right = level / np.linalg.norm(level) if np.linalg.norm(level) > 1e-9 else np.array([1.0, 0, 0])
    size = {"width_m": 0.6, "height_m": 0.9, **changed}
    energy = np.pi * size["width_m"] * size["height_m"]
    values = {"name": "key", "luminous_energy_lm_s": energy, **size}
    return Front(
        centre_m=np.asarray(centre, float), right=right, up=np.cross(normal, right), **values
    )


def sheet(centre: Any, right: Any, up: Any, width: float, height: float, **changed: Any) -> Sheet:
    """A black panel, unless told otherwise."""
    values = {"name": "sheet", "kind": "panel", "reflectance": BLACK, "back_reflectance": BLACK}
    centre, right, up = (np.asarray(v, float) for v in (centre, right, up))
    place = {"centre_m": centre, "right": right, "up": up, "width_m": width, "height_m": height}
    return Sheet(**(values | place | changed))


def layout(*fronts: Front, sheets: tuple[Sheet, ...] = (), body: Body | None = None) -> Layout:
    """A set without camera or meter points."""
    return Layout(fronts, sheets, body, None, (), 0)


def point(position: Any, normal: Any, patch: Any = None, patch_normals: Any = None) -> MeterPoint:
    """A named place, with or without a patch."""
    none = np.zeros((0, 3))
    patch, normals = (
        (none, none) if patch is None else (np.asarray(patch), np.asarray(patch_normals))
    )
    return MeterPoint(
        "place", np.asarray(position, float), np.asarray(normal, float), "skin", patch, normals
    )


def ball(centre: Any, radius: float, finely: int = 5) -> Body:
    """A sitter that is one ball (20 · 4^finely triangles)."""
    mesh = trimesh.creation.icosphere(subdivisions=finely, radius=radius)
    cloth = Cloth((0.18, 0.18, 0.18), 1.0, 0.0, np.zeros((1, 1), np.float32), 1.0)
    surface = Surface(
        "skin",
        (mesh.vertices + np.asarray(centre)).astype(np.float32),
        mesh.faces.astype(np.int32),
        mesh.vertex_normals.astype(np.float32),
        np.zeros((len(mesh.vertices), 2), np.float32),
        cloth,
    )
    return Body((surface,), (), {}, "ball")


def walls(reflectance: float) -> tuple[Sheet, ...]:
    """Floor, ceiling and walls of the reference rooms, all of one grey."""
    w, d, h = ROOM_WIDTH_M, ROOM_DEPTH_M, ROOM_HEIGHT_M
    x, y, z = np.eye(3)
    half = 0.5 * np.array([w, d, h])
    made = []
    for name, inward, right, width, height in (
        ("floor", z, x, w, d),
        ("ceiling", -z, x, w, d),
        ("left", x, y, d, h),
        ("right", -x, y, d, h),
        ("near", y, x, w, h),
        ("far", -y, x, w, h),
    ):
        centre = place_from_reference(half - inward * half)
        right, inward = from_reference(right), from_reference(inward)
        grey = (reflectance,) * 3
        made.append(
            sheet(
                centre,
                right,
                np.cross(inward, right),
                width,
                height,
                name=name,
                kind="wall",
                reflectance=grey,
                back_reflectance=grey,
            )
        )
    return tuple(made)


def room_a(reflectance: float = 0.0) -> Layout:
    """Room A: a lamp 0.6 x 0.9 m flush in the middle of the ceiling, 1000 cd/m²."""
    lamp = Front(
        "lamp",
        place_from_reference([2.0, 2.5, 2.6]),
        from_reference([1.0, 0.0, 0.0]),
        from_reference([0.0, -1.0, 0.0]),
        0.6,
        0.9,
        np.pi * REFERENCE_LUMINANCE * 0.54,
    )
    return layout(lamp, sheets=walls(reflectance))


def room_b(reflectance: float = 0.0) -> Layout:
    """Room B: a 0.6 x 0.9 m soft box 1.2 m from S, 45 degrees to the side, 30 degrees up."""
    centre = place_from_reference([1.265153, 1.765153, 1.8])
    box = front(
        place_from_reference(SUBJECT) - centre,
        centre,
        luminous_energy_lm_s=np.pi * REFERENCE_LUMINANCE * 0.54,
    )
    return layout(box, sheets=walls(reflectance))
