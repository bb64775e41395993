"""The wet line along the lower lid and the moist corner: they keep a lid from looking cut out."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline

from render.sitter.arrays import Array, Index, unit
from render.sitter.body import Painted, Surface
from render.sitter.face.eyes import LID_GAP
from render.sitter.face.lids import outer_corner
from render.sitter.shape.surfaces import smooth_normals, triangles_of

TEAR_INDEX, TEAR_ROUGHNESS = 1.336, 0.04  # index a textbook value, from memory
# Height of the tear meniscus on the ball [dm]; healthy eyes have 0.2 to 0.3 mm (from memory),
# and the gap that the lids keep adds to it.
_MENISCUS = 0.024
_COLUMNS, _ROWS = 80, 6
_ON_RIM = 0.65  # the film starts this far from the rim's outer edge, as a share of its width
_LIFT = 0.0012  # it lies this far above the rim's skin [dm]
_CARUNCLE = (0.026, 0.014, 0.009)  # half axes [dm]: 4 to 5 by 3 mm, from memory
_CARUNCLE_OUT = 0.001  # [dm] of its middle outside the ball; set by eye
# Linear sRGB reflectance under the film, from the lid's rim to the ball, and of the corner.
_RIM, _BALL, _CORNER = (0.42, 0.215, 0.170), (0.54, 0.44, 0.39), (0.47, 0.255, 0.210)


def wet_surface(name: str, rim: Array, centre: Array, radius: float) -> Surface:
    """Tear film and caruncle of one eye [dm]; rim (columns, 2, 3) of its lids."""
    film, film_quads, across = _film(rim, centre, radius)
    blob, blob_quads = _caruncle(rim, centre, radius)
    vertices = np.concatenate([film, blob])
    quads = np.concatenate([film_quads, blob_quads + len(film)])
    # Colours are stacked: the lower half of the picture is the film, the upper the corner.
    v = np.concatenate([0.45 * across, np.full(len(blob), 0.9)])
    ramp = np.linspace(0, 1, 8)[:, None]
    film_paint = np.array(_RIM) * (1 - ramp) + np.array(_BALL) * ramp
    paint = np.concatenate([film_paint, np.tile(_CORNER, (8, 1))])[::-1]
    colour = np.repeat(paint[:, None], 2, axis=1).astype(np.float32)
    return Surface(
        name=name,
        vertices=vertices.astype(np.float32),
        triangles=triangles_of(quads).astype(np.int32),
        normals=smooth_normals(vertices, quads).astype(np.float32),
        uv=np.stack([np.full(len(v), 0.5), v], 1).astype(np.float32),
        material=Painted(colour, TEAR_ROUGHNESS, TEAR_INDEX),
    )


def _film(rim: Array, centre: Array, radius: float) -> tuple[Array, Index, Array]:
    """Vertices, quads and place across (n,) of the film: hollow, from the rim up the ball."""
    lower = np.concatenate([rim[outer_corner(rim) :], rim[:1]])
    spline = CubicSpline(np.linspace(0, 1, len(lower)), lower)
    edge = spline(np.linspace(0.02, 0.97, _COLUMNS))  # (columns, 2, 3)
    start = edge[:, 0] + _ON_RIM * (edge[:, 1] - edge[:, 0])
    inner = edge[:, 1] - centre
    q = start - centre
    start = centre + q * (1 + _LIFT / np.linalg.norm(q, axis=1))[:, None]
    height = np.linalg.norm(inner, axis=1) - radius
    rows = [start]
    sideways = unit(np.cross([0.0, 1.0, 0.0], inner))
    upwards = unit(np.cross(inner, sideways))
    for s in np.linspace(0, 1, _ROWS):
        up = unit(inner) + upwards * (_MENISCUS * s / radius)
        thick = np.maximum(height, LID_GAP) * (1 - s) ** 2 + _LIFT * (1 - s) + 0.0004 * s
        rows.append(centre + unit(up) * (radius + thick)[:, None])
    points = np.stack(rows)
    count = len(rows)
    i = np.arange(count - 1)[:, None] * _COLUMNS + np.arange(_COLUMNS - 1)
    quads = np.stack([i, i + 1, i + 1 + _COLUMNS, i + _COLUMNS], -1).reshape(-1, 4)
    across = np.repeat(np.linspace(0, 1, count), _COLUMNS)
    points = points.reshape(-1, 3)
    outside = ((points - centre) * smooth_normals(points, quads)).sum() > 0
    return points, quads if outside else quads[:, ::-1], across


def _caruncle(rim: Array, centre: Array, radius: float) -> tuple[Array, Index]:
    """The pink mound in the inner corner."""
    middle = np.mean([rim[1, 1], rim[-1, 1], rim[2, 1], rim[-2, 1]], axis=0)
    inward = unit(centre - middle)
    middle = centre - inward * (radius + _CARUNCLE_OUT)
    along = unit(rim[[3, -3], 1].mean(0) - rim[0, 1])
    up = unit(np.cross(inward, along))
    up = up if up[1] > 0 else -up
    out = unit(np.cross(along, up))
    out = out if out @ inward < 0 else -out
    side = np.linspace(0, np.pi, 13)
    turn = np.linspace(0, 2 * np.pi, 21)
    a, b = np.meshgrid(side, turn, indexing="ij")
    # Poles lie along the eye's opening, so that the mound tapers to both sides.
    local = np.stack([np.cos(a), np.sin(a) * np.cos(b), np.sin(a) * np.sin(b)], -1)
    points = middle + (local * np.array(_CARUNCLE)) @ np.stack([along, up, out])
    i = np.arange(len(side) - 1)[:, None] * len(turn) + np.arange(len(turn) - 1)
    quads = np.stack([i, i + 1, i + 1 + len(turn), i + len(turn)], -1).reshape(-1, 4)
    points = points.reshape(-1, 3)
    normal = smooth_normals(points, quads)
    outside = ((points - middle) * normal).sum() > 0
    return points, quads if outside else quads[:, ::-1]
