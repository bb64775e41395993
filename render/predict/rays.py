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

    The shape is where all circles, lines and strips overlap. The rays start in `middle`, which lies
    within circles and lines, at the station's foot if that does, so that nothing peaks between.
    """

    receptor: Receptor
    at: Floats  # (m, 3) stations, z > 0 [m]
    axis: Floats  # (m, 3) unit
    middle: Floats  # (m, 2) [m]
    circles: Floats  # (m, c, 3) x, y, radius [m]
    lines: Floats  # (m, s, 3) unit normal x, y; distance from the origin [m]
    strips: Floats  # (m, k, 3) unit normal x, y; half width about the station's foot [m]
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
        ray = np.stack([np.cos(turn), np.sin(turn)], -1)
        near, far = self._stretch(ray)
        # Along a ray the distance is shortest at -b; tan(phi) counts from there.
        off = (self.middle - self.at[:, :2])[:, None, :]
        z = self.at[:, 2, None]
        b = np.sum(off * ray, -1)
        w = np.sqrt(np.maximum(z * z + np.sum(off * off, -1) - b * b, z * z + LEAST))
        first, last = np.arctan((near + b) / w), np.arctan((far + b) / w)
        phi = first + u * (last - first)
        radius = w * np.tan(phi) - b
        places = self.middle[:, None, :] + radius[..., None] * ray
        way = places - self.at[:, None, :2]
        along = np.sum(way * self.axis[:, None, :2], -1) - z * self.axis[:, 2, None]
        cos_phi = np.cos(phi)
        response = respond(self.receptor, along * cos_phi / w)
        # z / d³ · r dr dturn with d = w / cos(phi)
        solid = z * radius * cos_phi / (w * w) * (last - first) * per_v
        return places, np.maximum(response * solid, 0.0)

    def _spread(self, v: Floats) -> tuple[Floats, Floats]:
        """Angles (m, k) [rad] and their slopes: every stretch between kinks takes as much of v."""
        pieces = self.turns.shape[1] - 1
        v = np.broadcast_to(v, (len(self.at), np.shape(v)[-1]))
        j = np.minimum((v * pieces).astype(np.intp), pieces - 1)
        start = np.take_along_axis(self.turns, j, 1)
        step = np.take_along_axis(self.turns, j + 1, 1) - start
        return start + (v * pieces - j) * step, pieces * step

    def _stretch(self, ray: Floats) -> tuple[Floats, Floats]:
        """Where rays (m, k, 2) from the middle enter and leave the shape above the horizon [m]."""
        near = np.zeros(ray.shape[:-1])
        far = reach(self.circles, self.lines, self.middle, ray)
        off = self.middle - self.at[:, :2]
        for n in range(self.strips.shape[1]):
            normal, half = self.strips[:, n, None, :2], self.strips[:, n, 2, None]
            offset = np.sum(off[:, None, :] * normal, -1)
            speed = _not_zero(np.sum(ray * normal, -1))
            ends = np.stack([(-half - offset) / speed, (half - offset) / speed])
            near, far = np.maximum(near, ends.min(0)), np.minimum(far, ends.max(0))
        if self.receptor == "flat":
            height = np.sum(off * self.axis[:, :2], -1) - self.at[:, 2] * self.axis[:, 2]
            climb = _not_zero(np.sum(ray * self.axis[:, None, :2], -1))
            crossing = -height[:, None] / climb
            near = np.where(climb > 0, np.maximum(near, crossing), near)
            far = np.where(climb > 0, far, np.minimum(far, crossing))
        return near, np.where(self.open[:, None], np.maximum(near, far), near)


def _not_zero(values: Floats) -> Floats:
    return np.where(np.abs(values) < LEAST, LEAST, values)


def reach(circles: Floats, lines: Floats, start: Floats, ray: Floats) -> Floats:
    """Length (m, k) [m] of rays (m, k, 2) from a start (m, 2) to the nearest circle or line."""
    off = start[:, None, :] - circles[..., :2]  # (m, c, 2)
    along = np.sum(off[:, None] * ray[:, :, None], -1)  # (m, k, c)
    square = (circles[..., 2] ** 2 - np.sum(off * off, -1))[:, None]
    to_circle = np.sqrt(np.maximum(square + along * along, 0.0)) - along
    gap = (lines[..., 2] - np.sum(start[:, None] * lines[..., :2], -1))[:, None]
    speed = np.sum(ray[:, :, None] * lines[:, None, :, :2], -1)  # (m, k, s)
    to_line = np.where(speed > LEAST, gap / np.maximum(speed, LEAST), np.inf)
    nearest: Floats = np.minimum(to_circle.min(-1, initial=np.inf), to_line.min(-1, initial=np.inf))
    return np.maximum(nearest, 0.0)


def start_within(at: Floats, inside: Floats, circles: Floats, lines: Floats) -> Floats:
    """A point (m, 2) within circles and lines: the foot of the stations, or on the way to it.

    inside : (m, 2) float  any point within [m]
    """
    way = at[:, :2] - inside
    length = np.linalg.norm(way, axis=1, keepdims=True)
    unit = way / np.maximum(length, LEAST)
    most = reach(circles, lines, inside, unit[:, None, :])
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
