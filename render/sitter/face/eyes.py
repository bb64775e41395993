"""Eyes: a painted ball with a coated, slightly domed cornea, turned to look at a point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.sitter.arrays import M_PER_DM, Array, Index, unit
from render.sitter.body import Painted, Surface
from render.sitter.shape.surfaces import smooth_normals, triangles_of

if TYPE_CHECKING:  # a kept eye is turned without what paints eyes
    from render.sitter.face.eye_paint import EyeTone

IRIS_RADIUS = 0.0590  # [dm]; visible iris diameter 11.7 +- 0.5 mm in adults, from memory
CORNEA_RADIUS = 0.078  # [dm] of the cornea's front; common textbook value, from memory
COAT_ROUGHNESS = 0.02  # tear film: sharp enough for a catchlight with a shape
COAT_INDEX = 1.376  # cornea; common textbook value, from memory
_LID_SOFT = 0.004  # [dm] over which skin comes to rest on the ball; set by eye
LID_GAP = 0.003  # [dm] between lid and eyeball: the tear film, widened to be safe
_SPOKES = 96


def fit_ball(points: Array) -> tuple[Array, float]:
    """Centre (3,) and radius of the sphere through the rear of an eyeball's points (n, 3)."""
    rear = points[points[:, 2] < np.sort(points[:, 2])[50]]
    system = np.c_[2 * rear, np.ones(len(rear))]
    solution = np.linalg.lstsq(system, (rear**2).sum(1), rcond=None)[0]
    centre = solution[:3]
    return centre, float(np.sqrt(solution[3] + centre @ centre))


def dome_depth(radius: float) -> float:
    """How far the corneal sphere's centre lies before the centre of a ball of this radius [dm]."""
    return float(np.sqrt(radius**2 - IRIS_RADIUS**2) - np.sqrt(CORNEA_RADIUS**2 - IRIS_RADIUS**2))


def _profile(radius: float) -> Array:
    """Distance from the axis and depth (k, 2) from the back of the ball to the corneal apex."""
    dome, depth = CORNEA_RADIUS, dome_depth(radius)
    limbus = np.arcsin(IRIS_RADIUS / radius)
    t = np.linspace(np.pi * 0.985, limbus * 1.12, 44)
    ball = np.stack([radius * np.sin(t), radius * np.cos(t)], 1)
    t = np.linspace(np.arcsin(min(1.0, IRIS_RADIUS / dome)) * 0.97, 0, 22)
    cap = np.stack([dome * np.sin(t), depth + dome * np.cos(t)], 1)
    cap[-1, 0] = 1e-5
    return np.concatenate([ball, cap])


def _revolved(profile: Array) -> tuple[Array, Index, Array]:
    """Surface of revolution about z: vertices, quads and normals; the seam has two columns."""
    angle = np.linspace(0, 2 * np.pi, _SPOKES + 1)
    r, z = profile[:, None, 0], profile[:, None, 1]
    columns = [r * np.cos(angle), r * np.sin(angle), np.broadcast_to(z, (len(r), len(angle)))]
    vertices = np.stack(columns, -1).reshape(-1, 3)
    i = np.arange(len(profile) - 1)[:, None] * len(angle) + np.arange(_SPOKES)
    quads = np.stack([i, i + 1, i + len(angle) + 1, i + len(angle)], -1).reshape(-1, 4)
    normals = smooth_normals(vertices, quads).reshape(len(profile), len(angle), 3)
    normals[:, [0, -1]] = unit(normals[:, :1] + normals[:, -1:])
    normals[-1] = (0.0, 0.0, 1.0)
    return vertices, quads, normals.reshape(-1, 3)


def _towards(direction: Array) -> Array:
    """Rotation (3, 3) that turns +z into this direction and keeps the eye upright."""
    z = unit(direction)
    x = unit(np.cross([0.0, 1.0, 0.0], z))
    return np.asarray(np.stack([x, np.cross(z, x), z], 1))


def eye_surface(
    side: str, centre_m: Array, radius: float, gaze_m: Array, tone: EyeTone, seed: int
) -> Surface:
    """One eye looking at a point; centre_m, gaze_m (3,) [m], radius [dm]."""
    # Large libraries that only making needs; a kept eye is turned without them.
    from render.sitter.face.eye_paint import eye_paint

    vertices, quads, normals = _revolved(_profile(radius))
    turn = _towards(gaze_m - centre_m)
    ring = np.clip(np.hypot(vertices[:, 0], vertices[:, 1]) / radius, 0, 1) * 0.5
    v = np.where(vertices[:, 2] < 0, 1 - ring, ring)
    u = np.tile(np.linspace(0, 1, _SPOKES + 1), len(vertices) // (_SPOKES + 1))
    return Surface(
        name=f"eye_{side}",
        vertices=(vertices @ turn.T * M_PER_DM + centre_m).astype(np.float32),
        triangles=triangles_of(quads).astype(np.int32),
        normals=(normals @ turn.T).astype(np.float32),
        uv=np.stack([u, v], 1).astype(np.float32),
        material=Painted(eye_paint(IRIS_RADIUS / radius, tone, seed), COAT_ROUGHNESS, COAT_INDEX),
    )


def clear_of_ball(vertices: Array, centre: Array, radius: float) -> Array:
    """Skin vertices (n, 3) [dm] with those in front of the eye pushed off the eyeball.

    What lay above other skin stays above it, so that a lid's two sides do not fall together.
    """
    out = vertices.copy()
    q = vertices - centre
    distance = np.linalg.norm(q, axis=1)
    clear = radius + LID_GAP
    close = (distance < clear + 8 * _LID_SOFT) & (q[:, 2] > 0.15 * radius)
    above = _LID_SOFT * np.logaddexp(0, (distance[close] - clear) / _LID_SOFT)
    out[close] = centre + q[close] * ((clear + above) / distance[close])[:, None]
    return out
