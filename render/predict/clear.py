"""Reading of one front with nothing in the way: closed forms, or quadrature over what is seen."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.emission import (
    FLAT,
    Ball,
    Cells,
    Lobe,
    Matte,
    Polygon,
    Rectangle,
    peak_luminance_time,
)
from render.emission.shapes import rim
from render.photometry.formfactors import polygon_dome_response, polygon_view_factor
from render.predict.bowl import Bulge, Hollow
from render.predict.leaf import Leaf
from render.predict.pane import pane_response
from render.predict.refine import refine
from render.predict.station import Stations
from render.predict.views import views

Floats = NDArray[np.float64]

ORDERS = (6, 10, 16, 26, 42, 68)  # nodes from the middle to the rim; some four times as many around
MAX_NODES = 200_000  # worked on at once; keeps the arrays under some 100 MB


def clear_reading(spots: Stations) -> tuple[Floats, Floats]:
    """Luminous exposure of a front that nothing but its own lip, grid and cloth hides.

    returns : (m,) float  H [lx·s], exact for evenly bright matte rectangles, polygons and balls
              (m,) float  error estimate [stops]: what the finer of two orders changed; inf for
                          a station inside the cloth
    """
    front = spots.front
    response, error = np.zeros(len(spots.at)), np.zeros(len(spots.at))
    live = np.flatnonzero(spots.seen)
    if len(live):
        response[live], error[live] = _response(spots.pick(live))
    if not isinstance(front.shape, FLAT):
        error[~spots.seen] = np.inf
    return response * peak_luminance_time(front), error


def _response(spots: Stations) -> tuple[Floats, Floats]:
    """Response (m,) per L0 [sr] and error [stops], by the shortest way there is."""
    front = spots.front
    even = isinstance(front.beam, Matte) and front.edge_falloff_stops == 0 and front.cells is None
    if isinstance(front.shape, Rectangle):
        straight = isinstance(front.beam, Matte | Lobe)
        if straight and (front.cells is None or isinstance(front.cells, Cells)):
            return pane_response(spots)
    elif isinstance(front.shape, Ball):
        return ball_response(spots), np.zeros(len(spots.at))
    elif isinstance(front.shape, Polygon) and even and front.recess_m == 0:
        return _polygon_response(spots), np.zeros(len(spots.at))
    return refine(lambda k, n: _by_order(spots.pick(k), n), len(spots.at), ORDERS)


def _polygon_response(spots: Stations) -> Floats:
    """Response (m,) per L0 [sr] to an evenly bright matte polygon: closed form."""
    front = spots.front
    corners = rim(front.shape, front.width_m, front.height_m)
    seen = np.c_[corners, np.zeros(len(corners))] - spots.at[:, None, :]
    if spots.receptor == "flat":
        return np.pi * polygon_view_factor(seen, spots.axis)
    return polygon_dome_response(seen, spots.axis)


def ball_response(spots: Stations) -> Floats:
    """Response (m,) per L0 [sr] to an evenly bright matte ball: closed form.

    Wholly above the horizon of a flat receptor it is the inverse square law, pi sin²a cos b, for a
    ball of half angle a at an angle b from the axis. A horizon that cuts it leaves the Lambert
    integral along the arc of its edge above the horizon and along the horizon (derived here).
    """
    distance = np.linalg.norm(spots.at, axis=1)
    sin_a = np.minimum(0.5 * spots.front.width_m / distance, 1.0)
    cos_a = np.sqrt(1 - sin_a**2)
    cos_b = np.clip(-np.sum(spots.at * spots.axis, 1) / distance, -1.0, 1.0)
    sin_b = np.sqrt(1 - cos_b**2)
    if spots.receptor == "dome":
        dome: Floats = math.pi * (1 - cos_a) + 0.5 * math.pi * sin_a**2 * cos_b
        return dome
    whole, none = cos_b >= sin_a, cos_b <= -sin_a
    safe = np.where(whole | none, 1.0, sin_a * sin_b)
    arc = np.arccos(np.clip(np.where(whole | none, 0.0, -cos_a * cos_b) / safe, -1.0, 1.0))
    edge = arc * sin_a**2 * cos_b - sin_a * cos_a * sin_b * np.sin(arc)
    cut = edge + np.arcsin(np.clip(sin_a * np.sin(arc), -1.0, 1.0))
    below = np.where(none, 0.0, cut)
    found: Floats = np.where(whole, math.pi * sin_a**2 * cos_b, below)
    return found


def _by_order(spots: Stations, order: int) -> Floats:
    """Response (m,) per L0 [sr] by quadrature of an order, worked through in chunks."""
    step = max(1, MAX_NODES // (6 * order * order))
    found = np.zeros(len(spots.at))
    for i in range(0, len(spots.at), step):
        part = np.arange(i, min(i + step, len(spots.at)))
        for view in views(spots.pick(part)):
            live = np.flatnonzero(view.there)
            found[part[live]] += _integral(view.pick(live), order)
    return found


def _integral(view: Leaf | Hollow | Bulge, order: int) -> Floats:
    """Gauss-Legendre over the unit square of a view, its v in pieces without a kink."""
    u, weights_u = _rule(order)
    each = max(3, math.ceil(4 * order / view.pieces) + 2)
    nodes, weights = _rule(each)
    v = ((np.arange(view.pieces)[:, None] + nodes) / view.pieces).ravel()
    weights_v = np.tile(weights / view.pieces, view.pieces)
    both = np.meshgrid(u, v, indexing="ij")
    density = view.lay(both[0].ravel(), both[1].ravel())[1]
    total: Floats = density @ np.outer(weights_u, weights_v).ravel()
    return total


def _rule(order: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on 0 ... 1."""
    nodes, weights = np.polynomial.legendre.leggauss(order)
    return 0.5 * (nodes + 1), 0.5 * weights
