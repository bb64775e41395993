"""What one light does straight ahead and around its axis, with nothing else in the room."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.emission import FLAT, Ball, Cap, Front, Rectangle, beam, places, radiance_share
from render.emission.output import axial_exposure
from render.photometry.receptors import Receptor

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEP_DEG = 0.5  # the beam's width is interpolated between directions so far apart
RINGS, SPOKES = 24, 48  # places on a front: intensity to 0.1 %, half an umbrella's edge to 1 degree


def exposure_ahead(front: Front, distance_m: float, receptor: Receptor = "flat") -> float:
    """Luminous exposure of a light's front on a receptor straight ahead that faces it [lx·s].

    distance_m : float  from the cloth; a grid's thickness does not count
    """
    before = 0.0 if front.cells is None else 0.5 * front.cells.depth_m
    return axial_exposure(front, distance_m - before, receptor)


def beam_width_deg(front: Front) -> float | None:
    """Full width of the beam at half its intensity, across the width of the front [degrees].

    Far away, behind its lip or grid; 120 for a matte front (cosine law). None for a ball, which
    shines all around. Of an octa's lip the circle of equal width counts.
    """
    if isinstance(front.shape, Ball):
        return None
    angle = np.radians(np.arange(0.0, 90.0, STEP_DEG))
    intensity = _intensity(front, np.stack([np.sin(angle), 0 * angle, np.cos(angle)], -1))
    under = np.flatnonzero(intensity < 0.5 * intensity[0])
    if len(under) == 0:
        return 180.0
    k = int(under[0])
    part = (intensity[k - 1] - 0.5 * intensity[0]) / (intensity[k - 1] - intensity[k])
    return 2 * STEP_DEG * (k - 1 + float(part))


def _intensity(front: Front, way: Floats) -> Floats:
    """Relative intensity (k,) of a front in directions (k, 3) ahead, local axes."""
    if isinstance(front.shape, FLAT) and front.recess_m == 0:  # every place sends the same beam
        slopes = way[:, :2] / way[:, 2:]
        return beam(front, slopes[:, 0], slopes[:, 1]) * way[:, 2]
    nodes, weights = np.polynomial.legendre.leggauss(RINGS)
    s, t = 0.5 * (nodes + 1)[:, None], ((np.arange(SPOKES) + 0.5) / SPOKES)[None, :]
    laid = places(front.shape, front.width_m, front.height_m, s, t)
    towards = np.broadcast_to(way[:, None, None, :], (len(way), *laid.at.shape))
    lean = np.abs(np.sum(laid.normal * towards, axis=-1))
    lit = radiance_share(front, laid.at, laid.normal, towards) * lean
    lit = np.where(_past_lip(front, laid.at, towards), lit, 0.0)
    total: Floats = np.sum(0.5 * weights[:, None] * laid.area * lit, axis=(1, 2)) / SPOKES
    return total


def _past_lip(front: Front, at: Floats, way: Floats) -> Bools:
    """Whether parallel light from places (..., 3) leaves through the lip's opening."""
    if front.recess_m == 0 or isinstance(front.shape, Cap | Ball):
        return np.ones(way.shape[:-1], dtype=np.bool_)
    end = at[..., :2] + front.recess_m * way[..., :2] / way[..., 2:]
    half = 0.5 * np.array([front.width_m, front.height_m])
    if isinstance(front.shape, Rectangle):
        inside: Bools = np.all(np.abs(end) <= half, axis=-1)
        return inside
    within: Bools = np.hypot(end[..., 0], end[..., 1]) <= half[0]
    return within


def spot_diameter_m(beam_deg: float, distance_m: float) -> float:
    """Diameter [m] of the spot within a beam's width at a distance [m]."""
    return 2 * distance_m * math.tan(math.radians(0.5 * beam_deg))
