"""The surface that shines: flat cloth of any outline, a bowl or umbrella, a ball.

Local axes of a front: x along `right`, y along `up`, z along `normal`, origin at the middle of the
front. Every shape is laid out by two numbers s, t in 0 ... 1: s from the middle (or the pole) to
the rim, t once around the normal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Rectangle:
    """Flat, as wide and high as the front."""


@dataclass(frozen=True, slots=True)
class Polygon:
    """Flat, regular, with flat top; the front's width is that across the corners."""

    sides: int


@dataclass(frozen=True, slots=True)
class Disk:
    """Flat and round; a deflector in the middle may shine less than the ring around it."""

    hole_m: float = 0.0  # diameter of the deflector
    hole_share: float = 1.0  # its luminance against that of the ring


@dataclass(frozen=True, slots=True)
class Cap:
    """A bowl cut from a sphere: the cloth of an umbrella, the front's width across its rim.

    Hollow, it turns its inside to the sitter and the middle of the front is that of its rim; else
    it bulges towards the sitter and the middle of the front is its pole.
    """

    depth_m: float  # from the rim's plane to the pole; at most half the width
    hollow: bool
    back_share: float = 0.0  # of the light, that leaves the other side of the cloth


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball that shines all around; the middle of the front is its own."""


Shape = Rectangle | Polygon | Disk | Cap | Ball
FLAT = (Rectangle, Polygon, Disk)


@dataclass(frozen=True, slots=True)
class Places:
    """Places on a shining surface, in local axes."""

    at: Floats  # (..., 3) [m]
    normal: Floats  # (..., 3) unit, the side that mostly shines
    area: Floats  # (...) area per ds dt [m²]
    radius: Floats  # (...) distance from the axis, 1 at the rim


def rim(shape: Shape, width_m: float, height_m: float, corners: int = 64) -> Floats:
    """Corners (k, 2) [m] of the outline seen along the normal, counter-clockwise.

    corners : of the polygon that stands for a circle (inscribed)
    """
    if isinstance(shape, Rectangle):
        return 0.5 * np.array([width_m, height_m]) * [[-1, -1], [1, -1], [1, 1], [-1, 1]]
    sides = shape.sides if isinstance(shape, Polygon) else corners
    turn = math.pi * (2 * np.arange(sides) + 1) / sides + math.pi / 2
    return 0.5 * width_m * np.stack([np.cos(turn), np.sin(turn)], -1)


def sphere_radius(cap: Cap, width_m: float) -> float:
    """Radius of the sphere that a cap is cut from [m]."""
    half = 0.5 * width_m
    return (half * half + cap.depth_m**2) / (2 * cap.depth_m)


def sphere_middle(cap: Cap, width_m: float) -> float:
    """Local z of the middle of that sphere [m]."""
    radius = sphere_radius(cap, width_m)
    return radius - cap.depth_m if cap.hollow else -radius


def area_m2(shape: Shape, width_m: float, height_m: float) -> float:
    """Area of the shining surface [m²], one side of it."""
    half = 0.5 * width_m
    if isinstance(shape, Rectangle):
        return width_m * height_m
    if isinstance(shape, Polygon):
        return 0.5 * shape.sides * half * half * math.sin(2 * math.pi / shape.sides)
    if isinstance(shape, Disk):
        return math.pi * half * half
    if isinstance(shape, Cap):
        return math.pi * (half * half + shape.depth_m**2)
    return math.pi * width_m * width_m


def places(shape: Shape, width_m: float, height_m: float, s: Floats, t: Floats) -> Places:
    """Where s, t (...) in 0 ... 1 lie on the surface (broadcast against each other)."""
    s, t = np.broadcast_arrays(np.asarray(s, float), np.asarray(t, float))
    turn = 2 * math.pi * t
    if isinstance(shape, FLAT):
        return _flat(shape, width_m, height_m, s, turn)
    if isinstance(shape, Ball):
        radius, middle, most, sign = 0.5 * width_m, 0.0, math.pi, 1.0
    else:
        radius, middle = sphere_radius(shape, width_m), sphere_middle(shape, width_m)
        most = math.acos(1 - shape.depth_m / radius)
        sign = -1.0 if shape.hollow else 1.0
    angle = most * s
    around = [np.sin(angle) * np.cos(turn), np.sin(angle) * np.sin(turn)]
    outward = np.stack([*around, sign * np.cos(angle)], -1)
    at = radius * outward + [0.0, 0.0, middle]
    area = 2 * math.pi * most * radius * radius * np.sin(angle)
    share = np.sin(angle) * radius / (0.5 * width_m)
    return Places(at, sign * outward, area, share)


def _flat(
    shape: Rectangle | Polygon | Disk, width_m: float, height_m: float, s: Floats, turn: Floats
) -> Places:
    """Rays from the middle, s of the way to the outline."""
    reach = _reach(shape, width_m, height_m, turn)
    x, y = s * reach * np.cos(turn), s * reach * np.sin(turn)
    at = np.stack([x, y, np.zeros_like(x)], -1)
    normal = np.broadcast_to(np.array([0.0, 0.0, 1.0]), at.shape)
    share = np.hypot(x / (0.5 * width_m), y / (0.5 * height_m))
    return Places(at, normal, 2 * math.pi * s * reach * reach, share)


def within(shape: Rectangle | Polygon | Disk, size_m: tuple[float, float], at: Floats) -> Bools:
    """Whether places (..., 2 or more) [m] of the plane lie within a flat outline."""
    reach = _reach(shape, *size_m, np.arctan2(at[..., 1], at[..., 0]))
    inside: Bools = np.hypot(at[..., 0], at[..., 1]) <= reach
    return inside


def _reach(
    shape: Rectangle | Polygon | Disk, width_m: float, height_m: float, turn: Floats
) -> Floats:
    """Distance (...) from the middle to the outline in the direction `turn` (...) [rad]."""
    if isinstance(shape, Disk):
        return np.full(turn.shape, 0.5 * width_m)
    if isinstance(shape, Rectangle):
        with np.errstate(divide="ignore"):
            across = 0.5 * width_m / np.abs(np.cos(turn))
            return np.minimum(across, 0.5 * height_m / np.abs(np.sin(turn)))
    step = 2 * math.pi / shape.sides
    off = np.mod(turn - math.pi / 2 + step / 2, step) - step / 2  # from the middle of a side
    reach: Floats = 0.5 * width_m * math.cos(step / 2) / np.cos(off)
    return reach
