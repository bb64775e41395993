"""Turn a finished sitter's eyes towards what they look at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.sitter.arrays import Array, unit
from render.sitter.body import Body, Surface

FARTHEST_DEG = 35.0  # eyes turn no further in the head; comfortable limit, from memory


def looking_at(body: Body, gaze_m: tuple[float, float, float]) -> Body:
    """The body with both eyes turned to a point of sitter space [m], as far as eyes turn."""
    target = np.array(gaze_m)
    eyes = {s.name: _turned(s, target) for s in body.surfaces if s.name.startswith("eye_")}
    return replace(body, surfaces=tuple(eyes.get(s.name, s) for s in body.surfaces))


def _turned(eye: Surface, target: Array) -> Surface:
    vertices = eye.vertices.astype(float)
    centre, ahead = _ball(vertices)
    turn = _rotation(ahead, unit(target - centre)).T
    return replace(
        eye,
        vertices=((vertices - centre) @ turn + centre).astype(np.float32),
        normals=(eye.normals @ turn).astype(np.float32),
    )


def _ball(vertices: Array) -> tuple[Array, Array]:
    """Centre (3,) [m] of an eye's ball and where the eye looks (3,); its last vertex leads."""
    apex = vertices[-1]
    away = np.linalg.norm(vertices - apex, axis=1)
    back = vertices[away > np.median(away)]  # the sclera behind, a sphere
    rows = np.c_[2 * back, np.ones(len(back))]
    centre = np.linalg.lstsq(rows, (back**2).sum(1), rcond=None)[0][:3]
    return centre, unit(apex - centre)


def _rotation(start: Array, end: Array) -> Array:
    """(3, 3) shortest rotation from one direction towards another, FARTHEST_DEG at most."""
    axis = np.cross(start, end)
    sine = np.linalg.norm(axis)
    if sine < 1e-9:
        return np.eye(3)
    angle = min(np.arctan2(sine, start @ end), np.radians(FARTHEST_DEG))
    x, y, z = axis / sine
    across = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    # Rodrigues' formula.
    return np.asarray(np.eye(3) + np.sin(angle) * across + (1 - np.cos(angle)) * across @ across)
