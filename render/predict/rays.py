"""Flat luminous shapes laid out by rays in their plane, from a point within to the rim."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from render.photometry.receptors import Receptor
from render.predict.station import Picks, respond

Floats = NDArray[np.float64]

TOWARDS_FOOT = 0.8  # of the way to the rim: rays from nearer to it would change too quickly
LEAST = 1e-12  # keeps divisions by lengths and cosines that may be 0 finite


@dataclass(frozen=True, slots=True)
class Rays:
    """What m stations see of a convex shape in the plane z = 0, in polar coordinates.

    The shape is where all circles, lines, strips and the spot overlap. The rays start in `middle`,
    which lies within circles and lines, at the station's foot if that does, so that nothing peaks
    between.
    """

    receptor: Receptor
    at: Floats  # (m, 3) stations, z > 0 [m]
    axis: Floats  # (m, 3) unit
    middle: Floats  # (m, 2) [m]
    circles: Floats  # (m, c, 3) x, y, radius [m]
    lines: Floats  # (m, s, 3) unit normal x, y; distance from the origin [m]
    strips: Floats  # (m, k, 3) unit normal x, y; half width about the station's foot [m]
    spot: Floats  # (m,) radius of a beam about the station's foot, infinite without an end [m]
    turns: Floats  # (m, K + 1) [rad], ascending, once around: kinks lie there
    open: NDArray[np.bool_]  # (m,) whether the shape is more than nothing

    def pick(self, which: Picks) -> Rays:
        """The stations of an index or mask (m,)."""
        arrays = [getattr(self, field.name)[which] for field in fields(self)[1:]]
        return Rays(self.receptor, *arrays)

    def lay(self, u: Floats, v: Floats) -> tuple[Floats, Floats]:
        """Places (m, k, 2) [m] for u, v (k,) or (m, k) in 0 ... 1, from middle to rim and around.

        returns also (m, k) float  response · solid angle, per du dv [sr]
        """
        turn, per_v = self._spread(v)
        ray = np.cos(turn), np.sin(turn)
        near, far = self._stretch(ray)
        # Along a ray the distance is shortest at -b; tan(phi) counts from there.
        x0, y0, z = (self.at[:, k, None] for k in range(3))
        off_x, off_y = self.middle[:, :1] - x0, self.middle[:, 1:] - y0
        b = off_x * ray[0] + off_y * ray[1]
        square = z * z + off_x * off_x + off_y * off_y
        w = np.sqrt(np.maximum(square - b * b, z * z + LEAST))
        first, last = np.arctan((near + b) / w), np.arctan((far + b) / w)
        phi = first + u * (last - first)
        radius = w * np.tan(phi) - b
        way_x, way_y = off_x + radius * ray[0], off_y + radius * ray[1]
        ax, ay, az = (self.axis[:, k, None] for k in range(3))
        cos_phi = np.cos(phi)
        response = respond(self.receptor, (way_x * ax + way_y * ay - z * az) * cos_phi / w)
        # z / d³ · r dr dturn with d = w / cos(phi)
        solid = z * radius * cos_phi / (w * w) * (last - first) * per_v
        return np.stack([x0 + way_x, y0 + way_y], -1), np.maximum(response * solid, 0.0)

    def _spread(self, v: Floats) -> tuple[Floats, Floats]:
        """Angles (m, k) [rad] and their slopes: every stretch between kinks takes as much of v."""
        pieces = self.turns.shape[1] - 1
        v = np.broadcast_to(v, (len(self.at), np.shape(v)[-1]))
        j = np.minimum((v * pieces).astype(np.intp), pieces - 1)
        start = np.take_along_axis(self.turns, j, 1)
        step = np.take_along_axis(self.turns, j + 1, 1) - start
        return start + (v * pieces - j) * step, pieces * step

    def _stretch(self, ray: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
        """Where rays (m, k) x, y from the middle enter and leave the shape above the horizon."""
        near = np.zeros(ray[0].shape)
        far = reach(self.circles, self.lines, self.middle, ray)
        off_x, off_y = (self.middle - self.at[:, :2]).T
        for nx, ny, half in self.strips.transpose(1, 2, 0):
            offset = (off_x * nx + off_y * ny)[:, None]
            speed = _not_zero(ray[0] * nx[:, None] + ray[1] * ny[:, None])
            one, other = (-half[:, None] - offset) / speed, (half[:, None] - offset) / speed
            near, far = (
                np.maximum(near, np.minimum(one, other)),
                np.minimum(far, np.maximum(one, other)),
            )
        if np.any(np.isfinite(self.spot)):
            along = off_x[:, None] * ray[0] + off_y[:, None] * ray[1]
            square = along * along + (self.spot**2 - off_x**2 - off_y**2)[:, None]
            half = np.sqrt(np.maximum(square, 0.0))  # a ray that misses has no length
            near, far = np.maximum(near, -along - half), np.minimum(far, half - along)
        if self.receptor == "flat":
            ax, ay, az = self.axis.T
            height = off_x * ax + off_y * ay - self.at[:, 2] * az
            climb = _not_zero(ray[0] * ax[:, None] + ray[1] * ay[:, None])
            crossing = -height[:, None] / climb
            near = np.where(climb > 0, np.maximum(near, crossing), near)
            far = np.where(climb > 0, far, np.minimum(far, crossing))
        return near, np.where(self.open[:, None], np.maximum(near, far), near)


def _not_zero(values: Floats) -> Floats:
    return np.where(np.abs(values) < LEAST, LEAST, values)


def reach(circles: Floats, lines: Floats, start: Floats, ray: tuple[Floats, Floats]) -> Floats:
    """Length (m, k) [m] of rays (m, k) x, y from a start (m, 2) to the nearest circle or line."""
    nearest = np.full(ray[0].shape, np.inf)
    x, y = start.T
    # One after the other: sums over short axes are slow.
    for cx, cy, radius in circles.transpose(1, 2, 0):
        along = (x - cx)[:, None] * ray[0] + (y - cy)[:, None] * ray[1]
        square = (radius**2 - (x - cx) ** 2 - (y - cy) ** 2)[:, None]
        to_circle = np.sqrt(np.maximum(square + along * along, 0.0)) - along
        nearest = np.minimum(nearest, to_circle)
    for nx, ny, distance in lines.transpose(1, 2, 0):
        gap = (distance - x * nx - y * ny)[:, None]
        speed = nx[:, None] * ray[0] + ny[:, None] * ray[1]
        to_line = np.where(speed > LEAST, gap / np.maximum(speed, LEAST), np.inf)
        nearest = np.minimum(nearest, to_line)
    length: Floats = np.maximum(nearest, 0.0)
    return length


def start_within(at: Floats, inside: Floats, circles: Floats, lines: Floats) -> Floats:
    """A point (m, 2) within circles and lines: the foot of the stations, or on the way to it.

    inside : (m, 2) float  any point within [m]
    """
    way = at[:, :2] - inside
    length = np.linalg.norm(way, axis=1, keepdims=True)
    unit = way / np.maximum(length, LEAST)
    most = reach(circles, lines, inside, (unit[:, :1], unit[:, 1:]))
    found: Floats = inside + np.minimum(length, TOWARDS_FOOT * most) * unit
    return found


def turns_through(middle: Floats, kinks: Floats, angles: tuple[float, ...]) -> Floats:
    """Angles (m, K + 1) [rad] at which rays from `middle` (m, 2) meet kinks (m, c, 2), and others.

    angles : of kinks that are the same for every station [rad]
    """
    way = kinks - middle[:, None, :]
    met = np.arctan2(way[..., 1], way[..., 0])
    fixed = np.broadcast_to(np.array(angles), (len(middle), len(angles)))
    turns = np.sort(np.mod(np.concatenate([met, fixed], 1), 2 * math.pi), axis=1)
    return np.concatenate([turns, turns[:, :1] + 2 * math.pi], 1)
