"""Reading of one rectangular front with nothing in the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Matte
from render.photometry.formfactors import polygon_dome_response, polygon_view_factor
from render.predict.refine import refine
from render.predict.station import (
    Picks,
    Stations,
    reading_density,
    relative_luminance,
    respond,
)

Floats = NDArray[np.float64]

ORDERS = (6, 10, 16, 26, 42)  # Gauss-Legendre nodes per piece and direction, coarse to fine
MAX_NODES = 2_000_000  # worked on at once; keeps the arrays under some 100 MB
NEVER_ZERO = 1e-300  # stands for a zero slope: the horizon then crosses at infinity


@dataclass(frozen=True, slots=True)
class Pane:
    """A rectangular front, seen from m stations through the windows that lip and grid leave."""

    spots: Stations

    def pick(self, which: Picks) -> Pane:
        """The stations of an index or mask (m,)."""
        return Pane(self.spots.pick(which))

    @property
    def there(self) -> NDArray[np.bool_]:
        """Which stations (m,) see anything of it."""
        return self.spots.seen

    def lay(self, u: Floats, v: Floats) -> tuple[Floats, Floats]:
        """Places (m, k, 3) [m], local axes, and reading per L0 and du dv (m, k), for u, v.

        u, v : (k,) or (m, k) float  0 ... 1, across and up the window
        """
        x0, x1, y0, y1 = (self.spots.window[:, k, None] for k in range(4))
        x, y = x0 + u * (x1 - x0), y0 + v * (y1 - y0)
        area = (x1 - x0) * (y1 - y0)
        return np.stack([x, y, np.zeros_like(x)], -1), area * reading_density(self.spots, x, y)


def pane_response(spots: Stations) -> tuple[Floats, Floats]:
    """Response (m,) per L0 [sr] to a rectangle, and its error (m,) [stops].

    Exact for an evenly bright matte front without a grid; error: what the finer of two orders
    changed.
    """
    front = spots.front
    if front.edge_falloff_stops == 0 and front.cells is None and isinstance(front.beam, Matte):
        return _even_front(spots), np.zeros(len(spots.at))
    return refine(lambda k, n: _by_order(spots.pick(k), n), len(spots.at), ORDERS)


def _even_front(spots: Stations) -> Floats:
    """Response (m,) per L0 [sr] to an evenly bright matte window: closed form."""
    x0, x1, y0, y1 = (spots.window[:, k] for k in range(4))
    on_plane = [np.stack([x, y, 0 * x], -1) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    corners = np.stack(on_plane, axis=1) - spots.at[:, None, :]
    if spots.receptor == "flat":
        return np.pi * polygon_view_factor(corners, spots.axis)
    return polygon_dome_response(corners, spots.axis)


def _by_order(spots: Stations, order: int) -> Floats:
    """Response (m,) per L0 [sr] by quadrature of an order, worked through in chunks."""
    per_station = 10 * order * order  # at most 5 x 2 pieces
    step = max(1, MAX_NODES // per_station)
    pieces = [
        _quadrature(spots.pick(np.arange(i, min(i + step, len(spots.at)))), order)
        for i in range(0, len(spots.at), step)
    ]
    return np.concatenate(pieces) if pieces else np.zeros(0)


def _quadrature(spots: Stations, order: int) -> Floats:
    """Gauss-Legendre over longitude and latitude about the front's `up`, cut at every kink.

    With tan(a) = x/z and tan(b) = (y/z)·cos(a), solid angle is cos(b) da db, so nothing peaks
    however near the front is. The kinks are the middle lines of the cells' beam and, for the
    flat receptor, its horizon, which crosses the window slanting.
    """
    nodes, weights = np.polynomial.legendre.leggauss(order)
    z = spots.at[:, 2]
    tx0, tx1 = ((spots.window[:, k] - spots.at[:, 0]) / z for k in (0, 1))
    ty0, ty1 = ((spots.window[:, k] - spots.at[:, 1]) / z for k in (2, 3))
    ax, ay, az = (spots.axis[:, k] for k in range(3))

    # Outer pieces (m, K): longitude, from one kink to the next.
    knots = _outer_knots(spots, (tx0, tx1, ty0, ty1))
    lon = np.arctan(knots)
    half = 0.5 * np.diff(lon, axis=1)[..., None]
    a = (0.5 * (lon[:, 1:] + lon[:, :-1]))[..., None] + half * nodes  # (m, K, n)
    tan_a, cos_a = np.tan(a), np.cos(a)

    # Inner pieces: latitude, between the window's edges or the horizon.
    low, high = (np.broadcast_to(t[:, None, None], a.shape) for t in (ty0, ty1))
    if spots.receptor == "flat":
        slope = np.where(ay == 0, NEVER_ZERO, ay)[:, None, None]
        with np.errstate(over="ignore"):
            level = (az[:, None, None] - ax[:, None, None] * tan_a) / slope
        edge = np.clip(level, low, high)
        low, high = np.where(slope > 0, edge, low), np.where(slope > 0, high, edge)
    middle = np.clip(0.0, low, high) if spots.front.cells is not None else low
    total = np.zeros(a.shape)
    for lower, upper in ((low, middle), (middle, high)):
        if np.any(upper > lower):
            b0, b1 = np.arctan(lower * cos_a), np.arctan(upper * cos_a)
            total += _along_latitude(spots, a, (b0, b1), (nodes, weights))
    result: Floats = np.sum(total * half * weights, axis=(1, 2))
    return result


def _outer_knots(spots: Stations, slopes: tuple[Floats, Floats, Floats, Floats]) -> Floats:
    """Slopes x/z (m, K + 1), ascending, between which the integral over y/z has no kink."""
    tx0, tx1, ty0, ty1 = slopes
    inside = [np.zeros_like(tx0)] if spots.front.cells is not None else []
    if spots.receptor == "flat":
        ax, ay, az = (spots.axis[:, k] for k in range(3))
        slope = np.where(ax == 0, NEVER_ZERO, ax)
        with np.errstate(over="ignore"):
            inside += [(az - ay * ty) / slope for ty in (ty0, ty1)]
            inside += [az / slope] if spots.front.cells is not None else []
    cuts = [np.clip(cut, tx0, tx1) for cut in inside]
    return np.sort(np.stack([tx0, *cuts, tx1], axis=1), axis=1)


def _along_latitude(
    spots: Stations, a: Floats, limits: tuple[Floats, Floats], rule: tuple[Floats, Floats]
) -> Floats:
    """Integral over latitude b between limits, at longitudes a; all (m, K, n)."""
    (b0, b1), (nodes, weights) = limits, rule
    half = 0.5 * (b1 - b0)[..., None]
    b = 0.5 * (b0 + b1)[..., None] + half * nodes  # (m, K, n, n)
    sin_a, cos_a = np.sin(a)[..., None], np.cos(a)[..., None]
    sin_b, cos_b = np.sin(b), np.cos(b)
    px, py, pz = (spots.at[:, k, None, None, None] for k in range(3))
    ax, ay, az = (spots.axis[:, k, None, None, None] for k in range(3))
    cosine = (ax * sin_a - az * cos_a) * cos_b + ay * sin_b
    x = px + pz * sin_a / cos_a
    y = py + pz * sin_b / (cos_a * cos_b)
    bright = relative_luminance(spots, np.broadcast_to(x, y.shape), y)
    result: Floats = np.sum(
        bright * respond(spots.receptor, cosine) * cos_b * half * weights, axis=-1
    )
    return result
