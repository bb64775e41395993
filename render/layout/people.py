"""The sitter, turned and seated in the room, and the named places on them."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.folders import cache_folder, data_folder
from render.layout.geometry import turn
from render.sitter import Wishes, build_body
from render.sitter import is_made as body_is_made
from render.sitter.body import Body, Landmark
from render.sitter.own import OwnMesh, own_body
from render.studio.sitter import Sitter

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Anchor:
    """A named place in the room with the direction it faces."""

    position_m: Floats  # (3,)
    normal: Floats  # (3,) unit
    on: str  # "skin", "cloth", "hair", "backdrop" or "free"


def named(file: Path, key: str, name: str, anchors: dict[str, Anchor]) -> Anchor:
    """The anchor of that name; raises SceneError with the known names."""
    if name not in anchors:
        raise SceneError(file, key, f'no point "{name}"', f"one of {', '.join(sorted(anchors))}")
    return anchors[name]


def seat(file: Path, sitter: Sitter, camera_m: Floats | None) -> Body:
    """The sitter's body in room axes, looking where asked (ahead when there is no camera).

    file : the scene file, from which the path of an own mesh starts

    Raises MeshError for an unknown name and SceneError for an own mesh that is no head.
    """
    rotation, eyes = turn(sitter.turn_deg), eyes_of(sitter)
    if sitter.mesh is not None:
        kept = cache_folder("sitters")
        own = own_body(_own_mesh(file, sitter), data_dir=data_folder("meshes"), cache_dir=kept)
        return in_room(own, rotation, eyes)
    target = _looked_at(sitter, camera_m)
    gaze = None if target is None else (target - eyes) @ rotation
    body = build_body(
        wishes_of(sitter),
        data_dir=data_folder("meshes"),
        cache_dir=cache_folder("sitters"),
        gaze_m=None if gaze is None else (float(gaze[0]), float(gaze[1]), float(gaze[2])),
    )
    return in_room(body, rotation, eyes)


def wishes_of(sitter: Sitter) -> Wishes:
    """What is asked of a bundled sitter, however turned and wherever seated."""
    asked = {f.name: getattr(sitter, f.name) for f in fields(Wishes)}
    asked["head_tilt_deg"] = -sitter.head_tilt_deg
    return Wishes(**asked)


def is_made(sitter: Sitter) -> bool:
    """Whether their body is kept, so that `seat` takes no time; an own mesh is soon made.

    Raises MeshError for an unknown name.
    """
    if sitter.mesh is not None:
        return True
    folders = {"data_dir": data_folder("meshes"), "cache_dir": cache_folder("sitters")}
    return body_is_made(wishes_of(sitter), **folders)


def _own_mesh(file: Path, sitter: Sitter) -> OwnMesh:
    places = {} if sitter.landmarks is None else sitter.landmarks.model_dump(exclude_none=True)
    return OwnMesh(
        file=file.parent / str(sitter.mesh),
        scene=file,
        unit=sitter.mesh_unit,
        up=sitter.mesh_up,
        faces=sitter.mesh_faces,
        landmarks=tuple(places.items()),
        skin_reflectance=sitter.skin_reflectance,
    )


def _looked_at(sitter: Sitter, camera_m: Floats | None) -> Floats | None:
    """Place (3,) [m] in the room that the eyes look at; None is straight ahead."""
    if sitter.gaze == "camera":
        return camera_m
    return None if isinstance(sitter.gaze, str) else np.array(sitter.gaze)


def eyes_of(sitter: Sitter | None) -> Floats:
    """The midpoint of the eyes (3,) [m]; without a sitter, where a seated one's would be."""
    return np.array([0.0, 1.2 if sitter is None else sitter.eyes_height_m, 0.0])


def in_room(body: Body, rotation: Floats, eyes: Floats) -> Body:
    """The body turned by `rotation` (3, 3) about its eyes and moved to `eyes` (3,)."""

    def moved(points: NDArray[np.float32]) -> NDArray[np.float32]:
        return (points @ rotation.T + eyes).astype(np.float32)

    def turned(normals: NDArray[np.float32]) -> NDArray[np.float32]:
        return (normals @ rotation.T).astype(np.float32)

    return replace(
        body,
        surfaces=tuple(
            replace(s, vertices=moved(s.vertices), normals=turned(s.normals)) for s in body.surfaces
        ),
        strands=tuple(replace(s, points=moved(s.points)) for s in body.strands),
        landmarks={
            name: Landmark(name, moved(mark.position_m), turned(mark.normal), mark.on)
            for name, mark in body.landmarks.items()
        },
    )


def anchors_of(body: Body) -> dict[str, Anchor]:
    """Landmarks under the sitter's side names and, for both sides, the camera's."""
    found = {
        name: Anchor(mark.position_m.astype(float), mark.normal.astype(float), mark.on)
        for name, mark in body.landmarks.items()
    }
    for name in list(found):
        if name.endswith("_sitter_left"):
            stem = name.removesuffix("_sitter_left")
            pair = [found[name], found[f"{stem}_sitter_right"]]
            pair.sort(key=lambda anchor: float(anchor.position_m[0]))
            found[f"{stem}_camera_left"], found[f"{stem}_camera_right"] = pair
    return found
