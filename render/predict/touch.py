"""Rays against solid things: a scene of meshes, and where rays first meet it."""

from __future__ import annotations

from collections.abc import Sequence
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


def distances(scene: EmbreeScene | None, starts: Floats, ways: Floats) -> Floats:
    """How far (n,) [m] along units (n, 3) from (n, 3) [m] something is met; infinite where not.

    Single precision: to about a micrometre at 2 m.
    """
    if scene is None or not len(ways):
        return np.full(len(ways), np.inf)
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
