"""How bright each place of a front is in each direction, whatever its shape."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.emission.beams import Matte
from render.emission.front import Front, beam, hot_spot
from render.emission.shapes import Ball, Cap, sphere_radius

Floats = NDArray[np.float64]


def radiance_share(front: Front, at: Floats, normal: Floats, way: Floats) -> Floats:
    """Luminance of places on the surface in given directions, relative to L0.

    at, normal : (..., 3) float  places on the surface [m] and their normals, local axes
    way        : (..., 3) float  unit directions in which the light leaves, local axes
    returns    : (...) float     0 behind a one-sided surface and where its own cloth is in the way
    """
    lean = np.sum(normal * way, axis=-1)
    ahead, behind = side_shares(front)
    share = np.where(lean > 0, ahead, behind)
    u, v = at[..., 0] / (0.5 * front.width_m), at[..., 1] / (0.5 * front.height_m)
    if not isinstance(front.shape, Ball):
        share = share * hot_spot(front, u, v)
    if not isinstance(front.beam, Matte) or front.cells is not None:
        forward = np.where(way[..., 2] > 0, way[..., 2], np.inf)
        g = beam(front, way[..., 0] / forward, way[..., 1] / forward)
        share = share * np.where(way[..., 2] > 0, g, 0.0)
    if isinstance(front.shape, Cap):
        share = np.where(meets_own_cloth(front, at, way), 0.0, share)
    return share


def side_shares(front: Front) -> tuple[float, float]:
    """Luminance of the two sides of the cloth relative to L0: the normal's, the other."""
    if not isinstance(front.shape, Cap) or front.shape.back_share == 0:
        return 1.0, 0.0
    # What leaves the hollow side and meets the cloth again does not count as having left.
    ahead, behind = 1 - front.shape.back_share, front.shape.back_share
    free = escapes(front)
    if front.shape.hollow:
        return 1.0, behind / ahead * free
    return 1.0, behind / ahead / free


def escapes(front: Front) -> float:
    """Share of matte light from inside a cap that does not meet it again: 1 - area / (4π R²).

    Every part of a sphere sends every other of equal area the same (view factor in a sphere).
    """
    assert isinstance(front.shape, Cap)
    radius = sphere_radius(front.shape, front.width_m)
    return 1 - front.area_m2 / (4 * math.pi * radius**2)


def meets_own_cloth(front: Front, at: Floats, way: Floats) -> NDArray[np.bool_]:
    """Whether light that leaves a cap inwards meets the cap again.

    at, way : (..., 3) float  place on the cap [m] and unit direction, local axes
    returns : (...) bool      False for directions that leave the sphere
    """
    if not isinstance(front.shape, Cap):
        return np.zeros(np.broadcast(at[..., 0], way[..., 0]).shape, dtype=np.bool_)
    radius = sphere_radius(front.shape, front.width_m)
    sign = -1.0 if front.shape.hollow else 1.0  # of z at the pole, from the sphere's middle
    middle = np.array([0.0, 0.0, -sign * radius + (0.0 if sign > 0 else -front.shape.depth_m)])
    outward = (at - middle) / radius
    along = np.sum(outward * way, axis=-1)
    met = sign * (outward[..., 2] - 2 * along * way[..., 2]) * radius
    again: NDArray[np.bool_] = (along < 0) & (met > radius - front.shape.depth_m)
    return again
