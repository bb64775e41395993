"""The particles of an element as they are drawn: a few of them, large enough to be seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Cloud
from render.setview.pieces import Mesh

Floats = NDArray[np.float64]

DRAWN = 400  # particles; the first of a throw are a fair sample of it
LEAST_M = 0.008  # across, as drawn: a pixel or two in a drawing of the room
CORNERS = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1.0]])
FACES = np.array(
    [[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]]
)


def specks(cloud: Cloud) -> Mesh:
    """Octahedra in the place of particles, those that are too small drawn larger."""
    centres = cloud.centres_m[:DRAWN]
    sizes = np.zeros(len(centres)) if cloud.kind == "dust" else cloud.sizes_m[:DRAWN]
    half = 0.5 * np.maximum(sizes, LEAST_M)
    vertices = centres[:, None] + half[:, None, None] * CORNERS
    first = len(CORNERS) * np.arange(len(centres))[:, None, None]
    return vertices.reshape(-1, 3), (FACES + first).reshape(-1, 3)
