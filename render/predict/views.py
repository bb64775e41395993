"""The parts of a front that a station sees, each laid out on a unit square; their sum counts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from render.emission import FLAT, Cap, Rectangle
from render.predict.bowl import Bulge, Hollow, bowls
from render.predict.leaf import Leaf, leaves
from render.predict.pane import Pane
from render.predict.rays import LEAST
from render.predict.station import Stations, rim_level

Floats = NDArray[np.float64]
View = Pane | Leaf | Hollow | Bulge

CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
CLEAR_OF_CLOTH = 1.05  # of a bulky front's radius: from nearer by, everything may stand in its way


def views(spots: Stations) -> list[Leaf] | list[Hollow | Bulge]:
    """The views of any front, its kinks between equal stretches of their second coordinate."""
    return leaves(spots) if isinstance(spots.front.shape, FLAT) else bowls(spots)


def even_views(spots: Stations) -> list[View]:
    """The views of a front with even steps around it, for shadows that run anywhere."""
    if isinstance(spots.front.shape, Rectangle):
        return [Pane(spots)]
    around = np.tile([0.0, 2 * math.pi], (len(spots.at), 1))
    return [
        view if isinstance(view, Bulge) else replace(view, rays=replace(view.rays, turns=around))
        for view in views(spots)
    ]


def is_round(view: View) -> bool:
    """Whether a view runs from a middle to a rim and once around."""
    return not view.cut if isinstance(view, Bulge) else not isinstance(view, Pane)


def bounds(spots: Stations) -> tuple[Floats, NDArray[np.bool_]]:
    """Corners (m, 4, 3) [m], local axes, of a flat shape that covers the front from the stations.

    returns also (m,) bool  where there is none, so near is the station to a bulky front
    """
    front, m = spots.front, len(spots.at)
    if isinstance(front.shape, Rectangle):
        return Pane(spots).lay(CORNERS[:, 0] + 0.5, CORNERS[:, 1] + 0.5)[0], np.zeros(m, bool)
    if isinstance(front.shape, FLAT):
        flat = np.c_[CORNERS * [front.width_m, front.height_m], np.zeros(4)]
        return np.broadcast_to(flat, (m, 4, 3)), np.zeros(m, bool)
    return _behind_ball(spots)


def _behind_ball(spots: Stations) -> tuple[Floats, NDArray[np.bool_]]:
    """Squares across the line of sight, behind a ball that holds the cap, as wide as its cone."""
    front = spots.front
    radius, middle = 0.5 * front.width_m, np.zeros(3)
    if isinstance(front.shape, Cap):  # no deeper than half as wide: its rim is the widest ring
        middle[2] = rim_level(front)
    way = middle - spots.at
    distance = np.linalg.norm(way, axis=1)
    near = distance <= CLEAR_OF_CLOTH * radius
    safe = np.where(near, 2 * radius, distance)
    ahead = way / np.maximum(distance, LEAST)[:, None]
    helper = np.where(np.abs(ahead[:, :1]) < 0.5, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    across = np.cross(ahead, helper)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    half = radius * (safe + radius) / np.sqrt(safe**2 - radius**2)
    axes = np.stack([across, np.cross(ahead, across)], 1)  # (m, 2, 3)
    spread = 2 * half[:, None, None] * (CORNERS @ axes)
    return (middle + radius * ahead)[:, None, :] + spread, near
