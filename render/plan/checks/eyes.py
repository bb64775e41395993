"""The sitter's eyes as mirrors: the round front of the cornea, its middle and where it looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import facing, fitted_ball, unit
from render.sitter.arrays import M_PER_DM
from render.sitter.body import Body
from render.sitter.face.eyes import CORNEA_RADIUS, IRIS_RADIUS

Floats = NDArray[np.float64]

CORNEA_M, IRIS_M = CORNEA_RADIUS * M_PER_DM, IRIS_RADIUS * M_PER_DM
ACROSS = 81  # places across the iris: steps of 0.15 mm


@dataclass(frozen=True, slots=True)
class Cornea:
    """One eye."""

    name: str  # "eye_sitter_left" or "eye_sitter_right"
    middle_m: Floats  # (3,) of the cornea's ball
    looks: Floats  # (3,) unit

    @property
    def pupil_m(self) -> Floats:
        """Foremost point of the cornea (3,) [m]."""
        return self.middle_m + CORNEA_M * self.looks

    def places(self) -> tuple[Floats, Floats]:
        """Even places (n, 3) [m] on the cornea before the iris, and their normals (n, 3)."""
        right, up = facing(self.looks)
        step = IRIS_M * (2 * (np.arange(ACROSS) + 0.5) / ACROSS - 1)
        x, y = (axis.ravel() for axis in np.meshgrid(step, step))
        inside = np.hypot(x, y) <= IRIS_M
        x, y = x[inside], y[inside]
        depth = np.sqrt(CORNEA_M**2 - x * x - y * y)
        normals = (np.outer(x, right) + np.outer(y, up) + np.outer(depth, self.looks)) / CORNEA_M
        return self.middle_m + CORNEA_M * normals, normals


def corneas(body: Body) -> list[Cornea]:
    """The eyes of a sitter that have a shape of their own; none of an own mesh without them."""
    found = []
    for part in body.surfaces:
        if not part.name.startswith("eye_"):
            continue
        vertices = part.vertices.astype(float)
        ball, _ = fitted_ball(vertices)
        apex = vertices[int(np.argmax(np.linalg.norm(vertices - ball, axis=1)))]
        looks = unit(apex - ball)
        found.append(Cornea(part.name, apex - CORNEA_M * looks, looks))
    return found


def camera_side(body: Body, name: str) -> str:
    """The eye, by the side on which the camera sees it."""
    middle = {eye.name: float(eye.middle_m[0]) for eye in corneas(body)}
    left = middle[name] <= min(middle.values())
    return "camera left" if left and len(middle) > 1 else "camera right"
