"""The luminous front of a modifier: where it is, how bright each part is, where its beam goes.

Local axes of a front: x along `right`, y along `up`, z along `normal` (right x up = normal), origin
at the centre of the emitting plane. u, v in [-1, 1] run across it. Its luminance is

    L(u, v, direction) = L0 · p(u, v) · g(direction)

with p the falloff from hot spot to edge and g the share that the cells of a grid let through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cells:
    """A fabric grid of rectangular cells in front of the cloth; its walls are black."""

    width_m: float  # of one cell, along `right`
    height_m: float  # of one cell, along `up`
    depth_m: float

    @property
    def slopes(self) -> tuple[float, float]:
        """Tangents of the angles at which the cells close, along `right` and `up`."""
        return self.width_m / self.depth_m, self.height_m / self.depth_m


@dataclass(frozen=True, slots=True)
class Front:
    """A rectangular luminous front as it stands in the room, in metres."""

    name: str
    centre_m: Floats  # (3,) centre of the emitting plane
    right: Floats  # (3,) unit
    up: Floats  # (3,) unit
    width_m: float
    height_m: float
    luminous_energy_lm_s: float  # leaves the cloth at the set power, before any grid
    edge_falloff_stops: float = 0.0  # from the centre to the middle of an edge
    recess_m: float = 0.0  # black lip in front of the emitting plane
    cells: Cells | None = None
    shell_depth_m: float = 0.25  # black housing behind the emitting plane

    @property
    def normal(self) -> Floats:
        return np.cross(self.right, self.up)

    @property
    def area_m2(self) -> float:
        return self.width_m * self.height_m


def hot_spot(front: Front, u: Floats, v: Floats) -> Floats:
    """Luminance of a place on the front relative to its centre.

    u, v    : (...) float  -1 ... 1 across width and height
    returns : (...) float  2^(-falloff · (u² + v²)): the falloff at the middle of every edge,
              twice that in the corners (a Gaussian hot spot; shape is a modelling choice)
    """
    return np.exp2(-front.edge_falloff_stops * (u * u + v * v))


def mean_hot_spot(front: Front) -> float:
    """Mean of `hot_spot` over the front [-], closed form (Gaussian integral)."""
    k = front.edge_falloff_stops * math.log(2.0)
    if k == 0:
        return 1.0
    one_axis = math.sqrt(math.pi / (4 * k)) * math.erf(math.sqrt(k))
    return one_axis**2


def beam(front: Front, slope_x: Floats, slope_y: Floats) -> Floats:
    """Share of the cloth seen through the grid from a direction.

    slope_x, slope_y : (...) float  direction's x/z and y/z in the front's local axes
    returns          : (...) float  1 without a grid; with rectangular black-walled cells the
                       overlap of a cell's two openings, (1 - |tx|/ax)(1 - |ty|/ay), exact for
                       parallel light; seen from near by, a real grid of cells d deep differs by
                       up to about d / (2 · distance): 0.05 stop at 1 m with 5 cm cells
    """
    if front.cells is None:
        return np.ones(np.broadcast(slope_x, slope_y).shape)
    ax, ay = front.cells.slopes
    return np.maximum(0, 1 - np.abs(slope_x) / ax) * np.maximum(0, 1 - np.abs(slope_y) / ay)


def peak_luminance_time(front: Front, luminous_energy_lm_s: float | None = None) -> float:
    """L0 [cd·s/m²] at the front's centre, straight ahead.

    A Lambert surface sends pi·L into its half space per area, so Q = pi · A · mean(p) · L0. A grid
    takes its share afterwards and leaves L0 as it is.
    """
    energy = front.luminous_energy_lm_s if luminous_energy_lm_s is None else luminous_energy_lm_s
    return energy / (np.pi * front.area_m2 * mean_hot_spot(front))


def grid_transmission(front: Front) -> float:
    """Share of the light from the cloth that passes the grid [-] (1 without a grid).

    (1/pi) ∫ g cos(theta) dω = (4/pi) ∫∫ g(tx, ty) / (1 + tx² + ty²)² dtx dty over the open slopes.
    """
    if front.cells is None:
        return 1.0
    ax, ay = front.cells.slopes
    nodes, weights = np.polynomial.legendre.leggauss(64)
    tx, ty = 0.5 * ax * (nodes + 1)[:, None], 0.5 * ay * (nodes + 1)[None, :]
    w = 0.25 * ax * ay * weights[:, None] * weights[None, :]
    return float(4 / np.pi * np.sum(w * beam(front, tx, ty) / (1 + tx * tx + ty * ty) ** 2))


def local_from_room(front: Front, points: Floats) -> Floats:
    """Room points (..., 3) [m] in the front's local axes (..., 3) [m]."""
    axes = np.stack([front.right, front.up, front.normal], -1)
    return (points - front.centre_m) @ axes


def room_from_local(front: Front, points: Floats) -> Floats:
    """Local points (..., 3) [m] of the front in room axes (..., 3) [m]."""
    axes = np.stack([front.right, front.up, front.normal], -1)
    return points @ axes.T + front.centre_m


def lip_window(front: Front, local: Floats) -> Floats:
    """Part of the emitting plane that the lip leaves visible from a point.

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


BACK_SHARE = 0.4  # the housing narrows to this share of the front; typical soft box, from memory


def housing(front: Front) -> tuple[Floats, NDArray[np.int64]]:
    """The black housing with its lip: vertices (12, 3) [m] in the room, triangles (18, 3).

    Three rings of four corners: the back plate, the rim of the emitting plane, the lip's edge.
    The emitting plane itself is not part of it.
    """
    w, h = 0.5 * front.width_m, 0.5 * front.height_m
    ring = np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
    levels = ((-front.shell_depth_m, BACK_SHARE), (0.0, 1.0), (max(front.recess_m, 1e-3), 1.0))
    local = np.concatenate([np.c_[ring * share, np.full(4, z)] for z, share in levels])
    faces = [[0, 2, 1], [0, 3, 2]]  # the back plate, seen from behind
    for base in (0, 4):
        for i in range(4):
            a, b = base + i, base + (i + 1) % 4
            faces += [[a, b, b + 4], [a, b + 4, a + 4]]
    return room_from_local(front, local), np.array(faces)
