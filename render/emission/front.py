"""The luminous front of a modifier: where it is, how bright each part is, where its beam goes.

Local axes of a front: x along `right`, y along `up`, z along `normal` (right x up = normal), origin
at the middle of the front. The luminance of a place in a direction is

    L(place, direction) = L0 · p(place) · g(direction)

with p the falloff from hot spot to edge and g the beam times the share that a grid lets through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission.beams import (
    Beam,
    Cells,
    Honeycomb,
    Matte,
    beam_factor,
    cells_share,
)
from render.emission.shapes import (
    Disk,
    Rectangle,
    Shape,
    area_m2,
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


def beam(front: Front, slope_x: Floats, slope_y: Floats) -> Floats:
    """g of a direction ahead: the beam's factor times the share that a grid lets through.

    slope_x, slope_y : (...) float  direction's x/z and y/z in the front's local axes
    """
    return beam_factor(front.beam, slope_x, slope_y) * cells_share(front.cells, slope_x, slope_y)


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
