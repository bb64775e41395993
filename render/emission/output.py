"""How much light leaves a modifier: from the dial, from a stated energy, or from a real reading."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission.flux import peak_luminance_time
from render.emission.front import Front
from render.emission.radiance import radiance_share
from render.emission.shapes import Ball, Rectangle, places
from render.emission.solids import head_end_m

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TYPICAL_UNCERTAINTY_STOPS = 0.5  # spread of efficacy and losses between makes; see scenes/kit
METERED_UNCERTAINTY_STOPS = 0.1  # repeatability of a flash meter; common practice, no source
CARRIED_UNCERTAINTY_STOPS = 0.3  # spread of cloths and grids between makes; from memory
WORTH_A_WORD_STOPS = 0.1
# Light of white walls (reflectance 0.7, 63 m²) against that of a soft box at 1 m; computed, uniform
# enclosure. Walls half as bright give a third of it, a narrow beam far less.
WALLS_AT_1_M = 0.117


@dataclass(frozen=True, slots=True)
class Output:
    """Light that leaves the cloth at full power, and how well that is known."""

    luminous_energy_lm_s: float
    calibration: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known about the readings behind an output."""

    date: str  # of the latest, "" if none is known
    count: int
    spread_stops: float  # between brightest and darkest
    walls_stops: float  # that the walls may have added, at most
    carried: bool  # they were taken with other cloths, grid or gels


def rated(stored_energy_ws: float, efficacy_lm_per_ws: float, share: float) -> Output:
    """Q = stored energy [W·s] x efficacy [lm/W] x share that leaves the cloth [-]."""
    energy = stored_energy_ws * efficacy_lm_per_ws * share
    words = f"typical, ±{TYPICAL_UNCERTAINTY_STOPS:g} stop"
    return Output(energy, words)


def stated(luminous_energy_lm_s: float) -> Output:
    """A luminous energy that the scene states [lm·s]."""
    return Output(luminous_energy_lm_s, "stated")


def metered(luminous_energy_lm_s: float, evidence: Evidence) -> Output:
    """From real readings, which imply so much light at the cloth [lm·s] at full power."""
    words = f"metered on {evidence.date}" if evidence.date else "metered"
    if evidence.count > 1:
        words += f", {evidence.count} readings {evidence.spread_stops:.1f} stop apart"
    if evidence.carried:
        words += " in another set-up and carried over"
    sure = max(METERED_UNCERTAINTY_STOPS, 0.5 * evidence.spread_stops)
    sure = max(sure, CARRIED_UNCERTAINTY_STOPS) if evidence.carried else sure
    words += f", ±{sure:.1f} stop"
    if evidence.walls_stops >= WORTH_A_WORD_STOPS:
        words += f" (walls may have added up to {evidence.walls_stops:.1f})"
    return Output(luminous_energy_lm_s, words)


def walls_stops(distance_m: float) -> float:
    """What the walls of a small white room add to a reading of a soft box, at most [stops].

    The box falls off with the square of the distance, the light of the walls hardly does.
    """
    return math.log2(1 + WALLS_AT_1_M * distance_m**2)


def axial_exposure(front: Front, distance_m: float, receptor: str) -> float:
    """Luminous exposure straight ahead of a front, facing it [lx·s].

    distance_m : float  from the front's middle, beyond lip and doors
    receptor   : "flat" (cosine) or "dome" ((1 + cos)/2)
    Gauss-Legendre from the middle to the rim (of a ball: to its horizon); lip and doors hide
    nothing on the axis, a head before an umbrella does.
    """
    nodes, weights = np.polynomial.legendre.leggauss(96)
    shape, ball = front.shape, isinstance(front.shape, Ball)
    most = np.arccos(min(1.0, 0.5 * front.width_m / distance_m)) / np.pi if ball else 1.0
    s, (t, around) = 0.5 * most * (nodes + 1)[:, None], _turns(front)
    laid = places(shape, front.width_m, front.height_m, s, t)
    way = np.array([0.0, 0.0, distance_m]) - laid.at
    distance = np.linalg.norm(way, axis=-1)
    way /= distance[..., None]
    cosine = way[..., 2]
    response = np.maximum(cosine, 0) if receptor == "flat" else 0.5 * (1 + cosine)
    lean = np.abs(np.sum(laid.normal * way, axis=-1))
    lit = radiance_share(front, laid.at, laid.normal, way) * lean * response / distance**2
    lit = np.where(_behind_head(front, laid.at, distance_m), 0.0, lit)
    total = np.sum(0.5 * most * weights[:, None] * around * laid.area * lit)
    return float(peak_luminance_time(front) * total)


def _turns(front: Front) -> tuple[Floats, Floats]:
    """Places t (k,) around the axis and their weights, summing to 1.

    Gauss-Legendre between the corners and the middles of a rectangle's sides, where outline and
    cells have their kinks; even steps around anything else.
    """
    if not isinstance(front.shape, Rectangle):
        return (np.arange(360) + 0.5) / 360, np.full(360, 1 / 360)
    corner = math.atan2(front.height_m, front.width_m) / (2 * math.pi)
    quarter = np.array([0.0, corner, 0.25, 0.5 - corner])
    ends = np.concatenate([quarter, quarter + 0.5, [1.0]])
    nodes, weights = np.polynomial.legendre.leggauss(24)
    half = 0.5 * np.diff(ends)[:, None]
    turns = ends[:-1, None] + half * (nodes + 1)
    return turns.ravel(), (half * weights).ravel()


def _behind_head(front: Front, at: Floats, distance_m: float) -> Bools:
    """Whether the head before a hollow cap hides places (..., 3) from a point on the axis."""
    end = head_end_m(front)
    if end is None or front.head_m is None or not 0 < end < distance_m:
        return np.zeros(at.shape[:-1], dtype=np.bool_)
    radius = np.hypot(at[..., 0], at[..., 1])
    passes: Floats = radius * (distance_m - end) / (distance_m - at[..., 2])
    hidden: Bools = passes < 0.5 * front.head_m[0]
    return hidden
