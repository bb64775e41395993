"""Eyes: a painted ball with a coated, slightly domed cornea, turned to look at a point."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from render.sitter.arrays import M_PER_DM, Array, Index, bell, smoothstep, unit
from render.sitter.body import Painted, Surface
from render.sitter.shape.surfaces import smooth_normals, triangles_of

IRIS_RADIUS = 0.0590  # [dm]; visible iris diameter 11.7 +- 0.5 mm in adults, from memory
CORNEA_RADIUS = 0.078  # [dm] of the cornea's front; common textbook value, from memory
PUPIL_SHARE = 0.31  # pupil radius over iris radius in studio light; set by eye
COAT_ROUGHNESS = 0.02  # tear film: sharp enough for a catchlight with a shape
COAT_INDEX = 1.376  # cornea; common textbook value, from memory
LID_GAP = 0.003  # [dm] between lid and eyeball: the tear film, widened to be safe
SCLERA = (0.60, 0.545, 0.50)  # linear sRGB reflectance; set by eye
_SPOKES = 96
_PAINT = (768, 160)  # iris picture: angle, radius [texels]
# Outer, middle and inner colour of the iris, linear sRGB reflectance; set by eye.
_IRIS = {
    "dark brown": ((0.016, 0.008, 0.005), (0.028, 0.012, 0.006), (0.036, 0.016, 0.007)),
    "brown": ((0.040, 0.019, 0.009), (0.075, 0.036, 0.015), (0.105, 0.052, 0.020)),
    "hazel": ((0.056, 0.050, 0.034), (0.085, 0.068, 0.040), (0.098, 0.060, 0.028)),
    "green": ((0.062, 0.085, 0.056), (0.125, 0.145, 0.085), (0.130, 0.105, 0.050)),
    "blue": ((0.058, 0.076, 0.095), (0.120, 0.145, 0.165), (0.150, 0.160, 0.150)),
    "grey": ((0.070, 0.076, 0.080), (0.145, 0.152, 0.155), (0.165, 0.160, 0.145)),
}


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
    side: str, centre_m: Array, radius: float, gaze_m: Array, iris: str, seed: int
) -> Surface:
    """One eye looking at a point; centre_m, gaze_m (3,) [m], radius [dm]."""
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
        material=Painted(eye_paint(IRIS_RADIUS / radius, iris, seed), COAT_ROUGHNESS, COAT_INDEX),
    )


def _iris_paint(colour: str, seed: int) -> Array:
    """Iris (radius, angle, 3): rows from the pupil's edge to the limbus."""
    rng = np.random.default_rng(seed)
    width, height = _PAINT
    outer, middle, inner = (np.array(c) for c in _IRIS[colour])
    r = np.linspace(0, 1, height)[:, None, None]
    core = inner + (middle - inner) * smoothstep(0.12, 0.38, r)
    rim = middle + (outer - middle) * smoothstep(0.45, 0.98, r)
    paint = np.broadcast_to(np.where(r < 0.38, core, rim), (height, width, 3)).copy()
    streaks = np.ones((height, width))
    for share, tall, wide in ((0.20, 0.30, 1.3), (0.16, 0.14, 3.5), (0.13, 0.05, 9.0)):
        grain = rng.standard_normal((height, width))
        grain = gaussian_filter(grain, (height * tall, wide), mode="wrap")
        streaks += share * grain / grain.std()
    paint *= np.clip(streaks, 0.35, 1.9)[..., None]
    wobble = 0.3 * gaussian_filter1d(rng.standard_normal(width), 10, mode="wrap")
    paint *= 1 + 0.28 * bell(r - 0.12 * wobble[None, :, None], 0.30, 0.05)
    paint *= 1 - 0.72 * smoothstep(0.80, 0.97, r)
    paint *= 1 - 0.45 * smoothstep(0.06, 0.0, r)
    return np.asarray(np.clip(paint, 0.002, 0.6))


def eye_paint(limbus: float, iris: str, seed: int, size: int = 768) -> Array:
    """Whole eye (size, size, 3): v runs from the pupil (0) over the sclera to the back (1)."""
    v = np.linspace(0, 1, size)[:, None]
    ring = np.where(v < 0.5, 2 * v, 2 * (1 - v)) / limbus
    paint = _iris_paint(iris, seed)
    u = (np.arange(size) / size * paint.shape[1]).astype(int)[None]
    radius = np.clip((ring - PUPIL_SHARE) / (1 - PUPIL_SHARE), 0, 1)
    colour = paint[(radius * (paint.shape[0] - 1)).astype(int), u]
    open_iris = smoothstep(PUPIL_SHARE - 0.02, PUPIL_SHARE + 0.02, ring)[..., None]
    colour = colour * open_iris + 0.003 * (1 - open_iris)
    white = np.where(v < 0.5, smoothstep(0.95, 1.14, ring), 1.0)[..., None]
    out = np.clip(colour * (1 - white) + np.array(SCLERA) * white, 0.002, 0.9)
    return np.asarray(out[::-1].astype(np.float32))


def clear_of_ball(vertices: Array, centre: Array, radius: float) -> Array:
    """Skin vertices (n, 3) [dm] with those in front of the eye pushed off the eyeball."""
    out = vertices.copy()
    q = vertices - centre
    distance = np.linalg.norm(q, axis=1)
    clear = radius + LID_GAP
    inside = (distance < clear) & (q[:, 2] > 0.15 * radius)
    out[inside] = centre + q[inside] / distance[inside, None] * clear
    return out
