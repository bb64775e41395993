"""How much of the frame particles hide on the mean, told from their areas alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from render.layout.lens import project
from render.layout.particles import cloud_mesh
from render.layout.placed import Cloud, View

Floats = NDArray[np.float64]


def shadow_areas(cloud: Cloud) -> Floats:
    """Mean area (n,) [m²] that each particle hides, over all ways that it may be turned.

    A convex body hides a quarter of its surface (Cauchy), a flat sheet half of one of its sides. A
    sheet that is bent may hide itself: of flakes and curls this is the most that it can be. Of dust
    it is what all particles of a puff hide together.
    """
    if cloud.hides_m2 is not None:
        return cloud.hides_m2
    vertices, _, triangles = cloud_mesh(cloud)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    areas = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    surface = areas.reshape(len(cloud.sizes_m), -1).sum(1)
    closed = cloud.kind in ("grains", "drops")
    return np.asarray(surface / (4 if closed else 2), float)


def hidden_share(clouds: Sequence[Cloud], view: View) -> float:
    """Mean share of the frame that particles hide, 0 to 1.

    Of particles at random, each layer of which hides a share s, what they hide together is
    1 - exp(-sum of s).
    """
    layers = 0.0
    for cloud in clouds:
        places = project(view, cloud.centres_m)
        seen = np.all((places >= 0) & (places <= 1), axis=1)  # behind the lens is nan, so not seen
        depth = (view.position_m - cloud.centres_m) @ view.back
        frame = view.frame_width_m * view.frame_height_m * (depth / view.image_m) ** 2
        layers += float((shadow_areas(cloud)[seen] / frame[seen]).sum())
    return 1.0 - float(np.exp(-layers))
