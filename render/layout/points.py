"""Meter points: named places on sitter and backdrop, or positions of the user's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.errors import SceneError
from render.layout.fits import check_inside
from render.layout.geometry import TOUCHING_M, facing, unit
from render.layout.lens import ray_through
from render.layout.people import Anchor, named
from render.layout.placed import MeterPoint, Sheet, View
from render.layout.sweep import meet
from render.layout.walls import BACK_WALL
from render.scenefile import Setup
from render.sitter import near_surface
from render.sitter.body import Body
from render.studio.scene import Point

Floats = NDArray[np.float64]

USUAL_POINTS = (
    "forehead",
    "key_cheek",
    "shadow_cheek",
    "chin",
    "collar",
    "crown",
    "hair_camera_left",
    "hair_camera_right",
    "shoulder_camera_left",
    "shoulder_camera_right",
    "backdrop_centre",
    "backdrop_top_left",
    "backdrop_top_right",
)
SPOT_RADIUS_M = 0.004  # small enough for light and normal to be even, large enough to see
SPOT_POINTS = 64
HAIR_SPOT_RADIUS_M = 0.010  # takes in many strands
HAIR_SPOT_DEPTH_M = 0.015  # a hair spot is aimed into the hair, not past its outline
CORNER_INSET = 0.08  # of the frame, so that a backdrop corner is safely in the picture


def backdrop_anchors(sheet: Sheet, eyes: Floats, lens: View | None) -> dict[str, Anchor]:
    """Centre (behind the sitter's eyes) and corners (of the frame, else of its upright part).

    Corners of the frame may lie on the bend of a paper, or on the floor in front of it.
    """
    middle = eyes[0] if sheet.name == BACK_WALL else sheet.centre_m[0]
    ahead = np.array([middle, eyes[1], 0.0])
    aims = {"backdrop_centre": (ahead, -sheet.normal)}
    for vertical, y in (("top", CORNER_INSET), ("bottom", 1 - CORNER_INSET)):
        for side, x in (("left", CORNER_INSET), ("right", 1 - CORNER_INSET)):
            if lens is None:
                across = sheet.right * sheet.width_m * (x - 0.5)
                place = sheet.centre_m + across + sheet.up * sheet.height_m * (0.5 - y)
                aim = (place + sheet.normal, -sheet.normal)
            else:
                aim = (lens.position_m, ray_through(lens, np.array([x, y])))
            aims[f"backdrop_{vertical}_{side}"] = aim
    starts, ways = (np.array(part) for part in zip(*aims.values(), strict=True))
    shares, normals = meet(sheet, starts, ways)
    return {
        name: Anchor(start + share * way, normal, "backdrop")
        for name, start, way, share, normal in zip(aims, starts, ways, shares, normals, strict=True)
        if np.isfinite(share)
    }


def cheek_anchors(anchors: dict[str, Anchor], key: Front) -> dict[str, Anchor]:
    """`key_cheek` is the cheek that faces the key more, `shadow_cheek` the other."""
    cheeks = [anchors.get(f"cheek_sitter_{side}") for side in ("left", "right")]
    if cheeks[0] is None or cheeks[1] is None:
        return {}
    lit = [
        float(unit(key.centre_m - cheek.position_m) @ cheek.normal)
        for cheek in cheeks
        if cheek is not None
    ]
    near, far = (cheeks[0], cheeks[1]) if lit[0] >= lit[1] else (cheeks[1], cheeks[0])
    return {"key_cheek": near, "shadow_cheek": far}


@dataclass(frozen=True, slots=True)
class Stand:
    """What is placed already when the meter points are."""

    anchors: dict[str, Anchor]
    body: Body | None
    fronts: tuple[Front, ...]
    lens: View | None
    box: Floats | None  # (2, 3) corners of the room [m]


def points(setup: Setup, stand: Stand, spots: bool = True) -> tuple[MeterPoint, ...]:
    """The scene's points, or the usual ones of sitter and backdrop; wished points included.

    spots : False leaves the patches of spot readings empty
    """
    scene, anchors = setup.scene, stand.anchors
    wanted = dict(scene.point)
    if not wanted:
        usual = [*(() if scene.sitter else scene.element), *USUAL_POINTS]
        wanted = {name: Point(landmark=name) for name in usual if name in anchors}
    for wish_name, wish in scene.wanted.items():
        if wish.point not in wanted:
            named(setup.file, f"wanted.{wish_name}.point", wish.point, anchors)
            wanted[wish.point] = Point(landmark=wish.point)
    if not wanted:
        raise SceneError(
            setup.file, "point", "nowhere to meter", "a sitter, a backdrop, or [point.NAME]"
        )
    return tuple(_point(setup, name, point, stand, spots) for name, point in wanted.items())


def _point(setup: Setup, name: str, point: Point, stand: Stand, spots: bool) -> MeterPoint:
    key = f"point.{name}"
    if (point.landmark is None) == (point.position_m is None):
        raise SceneError(
            setup.file, key, "needs one place", "either landmark, or position_m with facing"
        )
    if point.position_m is not None:
        position = np.array(point.position_m)
        check_inside(setup, key, "the point", position[None], stand.box)
        normal = _facing(setup, key, point, position, stand)
        none = np.zeros((0, 3))
        return MeterPoint(name, position, normal, "free", none, none)
    if point.facing != "camera":
        raise SceneError(
            setup.file,
            f"{key}.facing",
            "a landmark has its own direction",
            "facing with position_m only",
        )
    anchor = named(setup.file, f"{key}.landmark", str(point.landmark), stand.anchors)
    patch, normals = spot_patch(anchor, stand.body) if spots else (np.zeros((0, 3)),) * 2
    return MeterPoint(name, anchor.position_m, anchor.normal, anchor.on, patch, normals)


def _facing(
    setup: Setup,
    key: str,
    point: Point,
    position: Floats,
    stand: Stand,
) -> Floats:
    targets = {front.name: front.centre_m for front in stand.fronts}
    if stand.lens is not None:
        targets["camera"] = stand.lens.position_m
    for name, target in targets.items():
        if np.linalg.norm(target - position) < TOUCHING_M:
            raise SceneError(
                setup.file, f"{key}.position_m", f"the {name} is there", "a place elsewhere"
            )
    if not isinstance(point.facing, str):
        vector = np.array(point.facing)
        if np.linalg.norm(vector) < 1e-9:
            raise SceneError(setup.file, f"{key}.facing", "no direction", "x, y, z, not all zero")
        return unit(vector)
    if point.facing not in targets:
        raise SceneError(
            setup.file,
            f"{key}.facing",
            f'nothing called "{point.facing}"',
            f"one of {', '.join(targets)}, or x, y, z",
        )
    return unit(targets[point.facing] - position)


def spot_patch(anchor: Anchor, body: Body | None) -> tuple[Floats, Floats]:
    """Points (k, 3) and normals (k, 3) of the surface that a small spot there takes in."""
    if anchor.on in ("skin", "cloth") and body is not None:
        return _surface_patch(anchor, body)
    if anchor.on not in ("backdrop", "hair"):
        return np.zeros((0, 3)), np.zeros((0, 3))
    right, up = facing(anchor.normal)
    angle = np.arange(SPOT_POINTS) * np.pi * (3 - np.sqrt(5))  # an even spiral over a disk
    wide = HAIR_SPOT_RADIUS_M if anchor.on == "hair" else SPOT_RADIUS_M
    radius = wide * np.sqrt((np.arange(SPOT_POINTS) + 0.5) / SPOT_POINTS)
    disk = np.outer(radius * np.cos(angle), right) + np.outer(radius * np.sin(angle), up)
    depth = HAIR_SPOT_DEPTH_M if anchor.on == "hair" else 0.0
    centre = anchor.position_m - depth * anchor.normal
    return centre + disk, np.tile(anchor.normal, (SPOT_POINTS, 1))


def _surface_patch(anchor: Anchor, body: Body) -> tuple[Floats, Floats]:
    gaps = [
        float(np.min(np.linalg.norm(surface.vertices - anchor.position_m, axis=1)))
        for surface in body.surfaces
    ]
    surface = body.surfaces[int(np.argmin(gaps))]
    patch, normals = near_surface(surface, anchor.position_m, SPOT_RADIUS_M, SPOT_POINTS, seed=0)
    return patch.astype(float), normals.astype(float)
