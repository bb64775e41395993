"""Light from a luminous shape on a small receptor, in closed form.

A view factor F turns the luminance of an evenly bright matte shape into light: E = pi · L · F.
"""

from __future__ import annotations

import numpy as np

from render.photometry.number import Floats


def edge_vectors(start: Floats, end: Floats) -> Floats:
    """Contribution of polygon edges to the Lambert integral: angle times unit normal / 2.

    start, end : (..., 3) float  ends of the edges seen from the receptor, any length
    returns    : (..., 3) float  0 where both ends lie in one line with the receptor
    """
    normal = np.cross(start, end)
    sine = np.linalg.norm(normal, axis=-1)
    angle = np.arctan2(sine, np.sum(start * end, axis=-1))
    edges: Floats = normal * (0.5 * angle / np.where(sine == 0.0, 1.0, sine))[..., None]
    return edges


def polygon_vector(vertices: Floats) -> Floats:
    """Vector irradiance per luminance of a polygon, nothing clipped [sr].

    vertices : (..., n, 3) float  corners in order, seen from the receptor (at 0)
    returns  : (..., 3) float     points to the polygon when its corners go round right-handed
               about the direction to it; its component along an axis is pi·F for that axis
               while the whole polygon is above that axis's horizon
    Source: Lambert 1760; Arvo, SIGGRAPH 1995.
    """
    vector: Floats = edge_vectors(vertices, np.roll(vertices, -1, axis=-2)).sum(axis=-2)
    return vector


def polygon_view_factor(vertices: Floats, axis: Floats) -> Floats:
    """View factor of a convex polygon for a flat receptor, cut at the receptor's horizon.

    vertices : (..., n, 3) float  corners in order, either sense, seen from the receptor (at 0)
    axis     : (..., 3) float     unit normal of the receptor
    returns  : (...) float        F [-], 0 ... 1
    Source: Lambert 1760; Arvo, SIGGRAPH 1995.
    """
    a, b = vertices, np.roll(vertices, -1, axis=-2)
    height_a = np.sum(a * axis[..., None, :], axis=-1)
    height_b = np.roll(height_a, -1, axis=-1)
    up_a, up_b = height_a > 0.0, height_b > 0.0

    # Every edge that crosses the horizon is cut there; edges below it drop out.
    sinks, rises = up_a & ~up_b, ~up_a & up_b
    drop = np.where(sinks | rises, height_a - height_b, 1.0)
    cut = a + (b - a) * (height_a / drop)[..., None]
    start = np.where(rises[..., None], cut, a)
    end = np.where(sinks[..., None], cut, b)
    edges = np.where((up_a | up_b)[..., None], edge_vectors(start, end), 0.0)

    # A convex polygon sinks once and rises once: one edge along the horizon closes it again.
    leaves = np.sum(np.where(sinks[..., None], cut, 0.0), axis=-2)
    comes_back = np.sum(np.where(rises[..., None], cut, 0.0), axis=-2)
    total = edges.sum(axis=-2) + edge_vectors(leaves, comes_back)
    factor: Floats = np.abs(np.sum(total * axis, axis=-1)) / np.pi
    return factor


def triangle_solid_angle(a: Floats, b: Floats, c: Floats) -> Floats:
    """Signed solid angle (...) [sr] of triangles with corners (..., 3) seen from 0.

    Positive when the corners go round right-handed about the direction to the triangle.
    Source: Van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    na, nb, nc = (np.linalg.norm(v, axis=-1) for v in (a, b, c))
    volume = np.sum(a * np.cross(b, c), axis=-1)
    ab, ac, bc = (np.sum(p * q, axis=-1) for p, q in ((a, b), (a, c), (b, c)))
    solid: Floats = 2.0 * np.arctan2(volume, na * nb * nc + ab * nc + ac * nb + bc * na)
    return solid


def polygon_solid_angle(vertices: Floats) -> Floats:
    """Signed solid angle (...) [sr] of convex polygons (..., n, 3) seen from 0.

    Source: a fan of triangles, each by Van Oosterom & Strackee 1983.
    """
    first = vertices[..., :1, :]
    fan = triangle_solid_angle(first, vertices[..., 1:-1, :], vertices[..., 2:, :])
    solid: Floats = fan.sum(axis=-1)
    return solid


def polygon_dome_response(vertices: Floats, axis: Floats) -> Floats:
    """Response of a dome per luminance of a convex polygon [sr], also from beside and behind.

    vertices : (..., n, 3) float  corners in order, either sense, seen from the receptor (at 0)
    axis     : (..., 3) float     unit axis of the dome
    returns  : (...) float        integral of (1 + cos)/2 over the polygon = (Omega + n·Phi)/2
    Source: cardioid receptor of ISO 2720:1974; the two integrals of Van Oosterom & Strackee and
    of Lambert (derived).
    """
    solid = polygon_solid_angle(vertices)
    along = np.sum(polygon_vector(vertices) * axis, axis=-1)
    response: Floats = 0.5 * (np.abs(solid) + np.sign(solid) * along)
    return response


def rectangle_solid_angle(width: float, height: float, distance: float) -> float:
    """Solid angle [sr] of a rectangle seen from its axis; all lengths [m] (textbook formula)."""
    a2, b2, d2 = width**2, height**2, 4.0 * distance**2
    return float(4.0 * np.arcsin(width * height / np.sqrt((a2 + d2) * (b2 + d2))))


def strip_view_factor(width: float, distance: float) -> float:
    """View factor [-] of an endless strip over its middle, receptor facing it; lengths [m].

    Source: line integral; falls as 1/distance far away.
    """
    return float(0.5 * width / np.hypot(distance, 0.5 * width))
