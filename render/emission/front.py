"""The luminous front of a modifier: where it is, how bright each part is, where its beam goes.

Local axes of a front: x along `right`, y along `up`, z along `normal` (right x up = normal), origin
at the middle of the front. The luminance of a place in a direction is

    L(place, direction) = L0 · p(place) · g(direction)

with p the falloff from hot spot to edge and g the beam times the share that a grid lets through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission.beams import (
    Beam,
    Cells,
    Honeycomb,
    Matte,
    beam_factor,
    beam_integral,
    cells_share,
)
from render.emission.shapes import (
    FLAT,
    Ball,
    Cap,
    Disk,
    Rectangle,
    Shape,
    area_m2,
    places,
    sphere_radius,
)

Floats = NDArray[np.float64]
WHITE = (1.0, 1.0, 1.0)
RECTANGLE, MATTE = Rectangle(), Matte()


@dataclass(frozen=True, slots=True)
class Doors:
    """Barn doors: four black plates hinged at the edges of the front's opening.

    Angles are measured from straight ahead: 0 along the axis, 90 wide open; None = no such plate.
    Sides are the front's own: left is against `right`.
    """

    left_deg: float | None
    right_deg: float | None
    top_deg: float | None
    bottom_deg: float | None
    length_m: float


@dataclass(frozen=True, slots=True)
class Front:
    """A luminous front as it stands in the room, in metres."""

    name: str
    centre_m: Floats  # (3,) middle of the front
    right: Floats  # (3,) unit
    up: Floats  # (3,) unit
    width_m: float  # the diameter, where it is round
    height_m: float
    luminous_energy_lm_s: float  # leaves the modifier at the set power, before grid, lip and doors
    edge_falloff_stops: float = 0.0  # from the middle to the middle of an edge, or to the rim
    recess_m: float = 0.0  # black lip or tube in front of a flat front, as wide as it
    cells: Cells | Honeycomb | None = None
    shell_depth_m: float = 0.25  # black housing behind the emitting plane
    shape: Shape = RECTANGLE
    beam: Beam = MATTE
    doors: Doors | None = None
    head_m: tuple[float, float] | None = None  # width and length of a head that stands in the beam
    colour: tuple[float, float, float] = WHITE  # linear sRGB of its light, of luminance 1

    @property
    def normal(self) -> Floats:
        return np.cross(self.right, self.up)

    @property
    def area_m2(self) -> float:
        """One side of the shining surface."""
        return area_m2(self.shape, self.width_m, self.height_m)


def hot_spot(front: Front, u: Floats, v: Floats) -> Floats:
    """Luminance of a place on the front relative to its centre.

    u, v    : (...) float  -1 ... 1 across width and height
    returns : (...) float  2^(-falloff · (u² + v²)): the falloff at the middle of every edge, twice
              that in the corners of a rectangle (a Gaussian hot spot; shape is a modelling choice);
              the deflector of a dish takes its share
    """
    square = u * u + v * v
    spot = np.exp2(-front.edge_falloff_stops * square)
    if isinstance(front.shape, Disk) and front.shape.hole_m > 0:
        hole = (front.shape.hole_m / front.width_m) ** 2
        spot = np.where(square < hole, front.shape.hole_share, 1.0) * spot
    return spot


def mean_hot_spot(front: Front) -> float:
    """Mean of `hot_spot` over the shining surface [-].

    Closed forms (Gaussian integrals) for rectangle, disk and cap; quadrature for polygons, which
    error is below 1e-9.
    """
    k = front.edge_falloff_stops * math.log(2.0)
    shape = front.shape
    if isinstance(shape, Rectangle):
        one_axis = math.sqrt(math.pi / (4 * k)) * math.erf(math.sqrt(k)) if k else 1.0
        return one_axis**2
    if isinstance(shape, Disk):
        hole = (shape.hole_m / front.width_m) ** 2
        return _within(k, 1.0) + (shape.hole_share - 1) * _within(k, hole)
    if isinstance(shape, Ball) or k == 0:
        return 1.0
    nodes, weights = np.polynomial.legendre.leggauss(48)
    s, w = 0.5 * (nodes + 1), 0.5 * weights
    if isinstance(shape, Cap):
        t, w_t = np.zeros((1, 1)), np.ones(1)
    else:  # between two corners of a polygon
        t, w_t = (s[:, None] + 0.5) / shape.sides + 0.25, w
    laid = places(shape, front.width_m, front.height_m, s[None, :], t)
    spot = np.exp2(-front.edge_falloff_stops * laid.radius**2)
    return float(np.sum(w_t[:, None] * w * spot * laid.area) / front.area_m2)


def _within(k: float, square: float) -> float:
    """∫ e^(-k q) dq from 0 to `square`, the light within a radius of a round hot spot."""
    return square if k == 0 else (1 - math.exp(-k * square)) / k


def beam(front: Front, slope_x: Floats, slope_y: Floats) -> Floats:
    """g of a direction ahead: the beam's factor times the share that a grid lets through.

    slope_x, slope_y : (...) float  direction's x/z and y/z in the front's local axes
    """
    return beam_factor(front.beam, slope_x, slope_y) * cells_share(front.cells, slope_x, slope_y)


def side_shares(front: Front) -> tuple[float, float]:
    """Luminance of the two sides of the cloth relative to L0: the normal's, the other."""
    if not isinstance(front.shape, Cap) or front.shape.back_share == 0:
        return 1.0, 0.0
    # What leaves the hollow side and meets the cloth again does not count as having left.
    ahead, behind = 1 - front.shape.back_share, front.shape.back_share
    escapes = _escapes(front)
    if front.shape.hollow:
        return 1.0, behind / ahead * escapes
    return 1.0, behind / ahead / escapes


def _escapes(front: Front) -> float:
    """Share of matte light from inside a cap that does not meet it again: 1 - area / (4π R²).

    Every part of a sphere sends every other of equal area the same (view factor in a sphere).
    """
    assert isinstance(front.shape, Cap)
    radius = sphere_radius(front.shape, front.width_m)
    return 1 - front.area_m2 / (4 * math.pi * radius**2)


def peak_luminance_time(front: Front, luminous_energy_lm_s: float | None = None) -> float:
    """L0 [cd·s/m²] at the front's middle, straight ahead.

    Q = L0 · A · mean(p) · ∫ g cos θ dω over flat fronts, π for matte ones. A hollow cap's light
    that meets its own cloth again has not left it. A grid takes its share afterwards and leaves L0
    as it is.
    """
    energy = front.luminous_energy_lm_s if luminous_energy_lm_s is None else luminous_energy_lm_s
    spread = front.area_m2 * mean_hot_spot(front) * _solid_angle(front)
    if isinstance(front.shape, Cap):
        energy *= 1 - front.shape.back_share
    return energy / spread


def _solid_angle(front: Front) -> float:
    """Flux per area and per L0 [sr] of the side that the normal is on."""
    if isinstance(front.shape, FLAT):
        return beam_integral(front.beam)
    if isinstance(front.shape, Ball) or isinstance(front.beam, Matte):
        hollow = isinstance(front.shape, Cap) and front.shape.hollow
        return math.pi * (_escapes(front) if hollow else 1.0)
    return _bowl_integral(front)


def _bowl_integral(front: Front) -> float:
    """∫ p g cos dω dA over a cap with a beam about its axis, per area and mean p [sr].

    Quadrature over pole to rim and over directions; light that meets the cap again has not left.
    """
    assert isinstance(front.shape, Cap)
    nodes, weights = np.polynomial.legendre.leggauss(64)
    s, w_s = 0.5 * (nodes + 1), 0.5 * weights
    laid = places(front.shape, front.width_m, front.height_m, s, np.zeros_like(s))
    cosine, w_c = s[:, None], w_s[:, None]  # of the direction and the axis
    turn = math.pi * (np.arange(256) + 0.5) / 128
    sine = np.sqrt(1 - cosine**2)
    way = np.stack(
        np.broadcast_arrays(sine * np.cos(turn), sine * np.sin(turn), cosine), -1
    )  # (n, 256, 3)
    g = beam_factor(front.beam, way[..., 0] / way[..., 2], way[..., 1] / way[..., 2])
    weight = w_c * 2 * math.pi / len(turn)
    total = 0.0
    for k in range(len(s)):
        lean = np.maximum(way @ laid.normal[k], 0)
        free = ~meets_own_cloth(front, laid.at[k], way)
        flux = np.sum(weight * g * lean * free)
        total += (
            w_s[k] * laid.area[k] * 2.0 ** (-front.edge_falloff_stops * laid.radius[k] ** 2) * flux
        )
    return float(total / front.area_m2 / mean_hot_spot(front))


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


def grid_transmission(front: Front) -> float:
    """Share of the light that passes the grid of a flat front [-] (1 without a grid).

    ∫ g cos θ dω with the grid against that without; ∫∫ g / (1 + tx² + ty²)² dtx dty over the slopes
    in polar angles, since cos θ dω = sin θ cos θ dθ dφ.
    """
    if front.cells is None:
        return 1.0
    nodes, weights = np.polynomial.legendre.leggauss(96)
    most = math.atan(math.hypot(*front.cells.slopes))
    theta, w = 0.5 * most * (nodes + 1)[:, None], 0.5 * most * weights[:, None]
    turn = 2 * math.pi * (np.arange(720) + 0.5)[None, :] / 720
    tx, ty = np.tan(theta) * np.cos(turn), np.tan(theta) * np.sin(turn)
    lit = beam(front, tx, ty) * np.sin(theta) * np.cos(theta)
    return float(np.sum(w * lit) * 2 * math.pi / 720 / beam_integral(front.beam))


def local_from_room(front: Front, points: Floats) -> Floats:
    """Room points (..., 3) [m] in the front's local axes (..., 3) [m]."""
    axes = np.stack([front.right, front.up, front.normal], -1)
    return (points - front.centre_m) @ axes


def room_from_local(front: Front, points: Floats) -> Floats:
    """Local points (..., 3) [m] of the front in room axes (..., 3) [m]."""
    axes = np.stack([front.right, front.up, front.normal], -1)
    return points @ axes.T + front.centre_m


def lip_window(front: Front, local: Floats) -> Floats:
    """Part of a rectangular emitting plane that the lip leaves visible from a point.

    local   : (..., 3) float  the point in the front's local axes [m]
    returns : (..., 4) float  x0, x1, y0, y1 [m]; x1 <= x0 or y1 <= y0 where nothing is visible
    """
    x, y, z = local[..., 0], local[..., 1], local[..., 2]
    half_w, half_h = 0.5 * front.width_m, 0.5 * front.height_m
    ahead = z > front.recess_m
    # The lip's opening, seen from the point, falls on the plane enlarged about the line of sight.
    scale = np.where(ahead, z / np.where(ahead, z - front.recess_m, 1.0), 0.0)
    edges = [
        np.maximum(x + (-half_w - x) * scale, -half_w),
        np.minimum(x + (half_w - x) * scale, half_w),
        np.maximum(y + (-half_h - y) * scale, -half_h),
        np.minimum(y + (half_h - y) * scale, half_h),
    ]
    window = np.stack(edges, -1)
    return np.where(ahead[..., None], window, np.array([0.0, 0.0, 0.0, 0.0]))
