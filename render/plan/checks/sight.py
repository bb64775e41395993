"""How far a ray goes before it meets something solid: the sitter, a lamp, a panel."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.layout.placed import Layout
from render.sitter.body import Glass

Floats = NDArray[np.float64]
Mesh = tuple[Floats, NDArray[np.int64]]  # vertices (n, 3) [m], triangles (m, 3)


def ray_scene(meshes: Sequence[Mesh]) -> EmbreeScene | None:
    """Meshes ready for rays; None where there is nothing to meet."""
    solid = [mesh for mesh in meshes if len(mesh[1])]
    if not solid:
        return None
    scene = EmbreeScene()
    for vertices, triangles in solid:
        TriangleMesh(scene, vertices.astype(np.float32), triangles.astype(np.int32))
    return scene


def sitter_scene(layout: Layout) -> EmbreeScene | None:
    """The sitter ready for rays, without hair and clear lenses."""
    if layout.body is None:
        return None
    return ray_scene(
        [
            (part.vertices.astype(np.float64), part.triangles.astype(np.int64))
            for part in layout.body.surfaces
            if not isinstance(part.material, Glass)
        ]
    )


def distances(scene: EmbreeScene | None, starts: Floats, ways: Floats) -> Floats:
    """How far (n,) [m] along units (n, 3) from (n, 3) [m] something is met; infinite where not.

    Single precision: to about a micrometre at 2 m.
    """
    if scene is None or not len(ways):
        return np.full(len(ways), np.inf)
    met = scene.run(
        np.ascontiguousarray(starts, dtype=np.float32),
        np.ascontiguousarray(ways, dtype=np.float32),
        output=True,
    )
    return np.where(met["primID"] >= 0, met["tfar"].astype(np.float64), np.inf)
