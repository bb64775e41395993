"""Rays against solid things: a scene of meshes, and where rays first meet it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.sitter.body import Body, Glass

Floats = NDArray[np.float64]
Mesh = tuple[Floats, NDArray[np.int64]]  # vertices (n, 3) [m], triangles (m, 3)


class Met(NamedTuple):
    """Where rays first meet a surface."""

    distance_m: Floats  # (n,) infinite where they meet none
    normal: Floats  # (n, 3) unit, of the triangle, outward


@dataclass(frozen=True, slots=True)
class Turned:
    """A scene whose things have been turned and moved as one since it was built: rays turn back.

    To build it anew takes a hundred times as long as to turn its rays. These are rounded to single
    precision elsewhere than its vertices would be, so where a ray meets a thing is the same to
    about a micrometre.
    """

    scene: EmbreeScene
    rotation: Floats  # (3, 3)
    shift_m: Floats  # (3,) a place p has gone to rotation @ p + shift

    def back(self, starts: Floats, ways: Floats) -> tuple[Floats, Floats]:
        """Starts (n, 3) [m] and ways (n, 3) as the things saw them before."""
        return (starts - self.shift_m) @ self.rotation, ways @ self.rotation


def turned(scene: EmbreeScene | Turned | None, rotation: Floats, shift_m: Floats) -> Turned | None:
    """A scene after its things were turned by (3, 3) and then moved by (3,) [m]."""
    if isinstance(scene, Turned):
        moved = rotation @ scene.shift_m + shift_m
        return Turned(scene.scene, rotation @ scene.rotation, moved)
    return None if scene is None else Turned(scene, rotation, shift_m)


def ray_scene(meshes: Sequence[Mesh]) -> EmbreeScene | None:
    """Meshes ready for rays; None where there is nothing to meet."""
    solid = [mesh for mesh in meshes if len(mesh[1])]
    if not solid:
        return None
    scene = EmbreeScene()
    for vertices, triangles in solid:
        TriangleMesh(scene, vertices.astype(np.float32), triangles.astype(np.int32))
    return scene


def body_meshes(body: Body | None) -> list[Mesh]:
    """The solid parts of a sitter, without hair and clear lenses; none without one."""
    return [
        (part.vertices.astype(np.float64), part.triangles.astype(np.int64))
        for part in (body.surfaces if body else ())
        if not isinstance(part.material, Glass)
    ]


def distances(scene: EmbreeScene | Turned | None, starts: Floats, ways: Floats) -> Floats:
    """How far (n,) [m] along units (n, 3) from (n, 3) [m] something is met; infinite where not.

    Single precision: to about a micrometre at 2 m.
    """
    if scene is None or not len(ways):
        return np.full(len(ways), np.inf)
    if isinstance(scene, Turned):
        starts, ways = scene.back(starts, ways)
        scene = scene.scene
    met = _first(scene, starts, ways)
    return np.where(met["primID"] >= 0, met["tfar"].astype(np.float64), np.inf)


def first_met(body: Body, starts: Floats, ways: Floats) -> Met:
    """Distances and normals at which rays from (n, 3) [m] along units (n, 3) first meet the sitter.

    Hair and clear lenses are not there. Single precision: to about 1 um at 2 m.
    """
    scene = ray_scene(body_meshes(body))
    if scene is None:
        return Met(np.full(len(ways), np.inf), np.ones((len(ways), 3)))
    found = _first(scene, starts, ways)
    met = found["primID"] >= 0
    distance = np.where(met, found["tfar"].astype(float), np.inf)
    normal = np.where(met[:, None], found["Ng"].astype(float), 1.0)
    return Met(distance, -unit(normal) * np.sign(np.sum(normal * ways, axis=1))[:, None])


def _first(scene: EmbreeScene, starts: Floats, ways: Floats) -> dict[str, NDArray[np.float32]]:
    """What the ray kernel says of the first hits."""
    found: dict[str, NDArray[np.float32]] = scene.run(
        np.ascontiguousarray(starts, dtype=np.float32),
        np.ascontiguousarray(ways, dtype=np.float32),
        output=True,
    )
    return found
