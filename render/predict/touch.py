"""Where rays first meet the sitter."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.sitter.body import Body, Glass

Floats = NDArray[np.float64]


class Met(NamedTuple):
    """Where rays first meet a surface."""

    distance_m: Floats  # (n,) infinite where they meet none
    normal: Floats  # (n, 3) unit, of the triangle, outward


def first_met(body: Body, starts: Floats, ways: Floats) -> Met:
    """Distances and normals at which rays from (n, 3) [m] along units (n, 3) first meet the sitter.

    Hair and clear lenses are not there. Single precision: to about 1 um at 2 m.
    """
    scene = EmbreeScene()
    for part in body.surfaces:
        if not isinstance(part.material, Glass):
            TriangleMesh(scene, part.vertices.astype(np.float32), part.triangles.astype(np.int32))
    found = scene.run(starts.astype(np.float32), ways.astype(np.float32), output=True)
    met = found["primID"] >= 0
    distance = np.where(met, found["tfar"].astype(float), np.inf)
    normal = np.where(met[:, None], found["Ng"].astype(float), 1.0)
    return Met(distance, -unit(normal) * np.sign(np.sum(normal * ways, axis=1))[:, None])
