"""What a mirror shows: rays followed from a shining surface to the fronts that it reflects."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import (
    FLAT,
    Cap,
    Front,
    cloth,
    housing,
    local_from_room,
    radiance_share,
    shades,
)
from render.layout.geometry import unit
from render.predict import Obstacles
from render.predict.station import sphere
from render.predict.touch import distances, ray_scene

Floats = NDArray[np.float64]


def reflected(ways: Floats, normals: Floats) -> Floats:
    """Units (n, 3) mirrored at surfaces of unit normals (n, 3)."""
    found: Floats = ways - 2 * np.sum(ways * normals, axis=1)[:, None] * normals
    return found


def luminance_met(
    front: Front, index: int, obstacles: Obstacles | None, starts: Floats, ways: Floats
) -> Floats:
    """Luminance (n,) relative to L0 of the front that rays from (n, 3) [m] along (n, 3) meet.

    obstacles : what else may stand in the way; None for nothing
    returns   : 0 where a ray misses the front, meets its lip, doors or head, or its dark side
    """
    far = distances(ray_scene([cloth(front)]), starts, ways)
    own = housing(front) if isinstance(front.shape, FLAT) else shades(front)
    met = np.isfinite(far) & (distances(ray_scene([own]), starts, ways) > far - 1e-4)
    light = np.zeros(len(ways))
    if not met.any():
        return light
    at = starts[met] + far[met, None] * ways[met]
    light[met] = _towards(front, local_from_room(front, at), -ways[met])
    if obstacles is not None:
        light[met] *= ~obstacles.blocked(index, starts[met], at)
    return light


def _towards(front: Front, local: Floats, way: Floats) -> Floats:
    """Luminance of places (n, 3), local axes [m], in directions (n, 3) of the room."""
    axes = np.stack([front.right, front.up, front.normal], -1)
    if isinstance(front.shape, FLAT):
        normal = np.broadcast_to(np.array([0.0, 0.0, 1.0]), local.shape)
    else:
        radius, middle = sphere(front)
        hollow = isinstance(front.shape, Cap) and front.shape.hollow
        normal = (middle - local) / radius if hollow else (local - middle) / radius
    return np.maximum(radiance_share(front, local, unit(normal), way @ axes), 0.0)
