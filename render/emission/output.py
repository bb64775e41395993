"""How much light leaves a modifier: from the dial, from a stated energy, or from a real reading."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission.front import Front, peak_luminance_time, radiance_share
from render.emission.shapes import Ball, places
from render.emission.solids import head_end_m

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TYPICAL_UNCERTAINTY_STOPS = 0.5  # spread of efficacy and losses between makes; see scenes/kit
METERED_UNCERTAINTY_STOPS = 0.1  # repeatability of a flash meter; common practice, no source


@dataclass(frozen=True, slots=True)
class Output:
    """Light that leaves the cloth at full power, and how well that is known."""

    luminous_energy_lm_s: float
    calibration: str


def rated(stored_energy_ws: float, efficacy_lm_per_ws: float, share: float) -> Output:
    """Q = stored energy [W·s] x efficacy [lm/W] x share that leaves the cloth [-]."""
    energy = stored_energy_ws * efficacy_lm_per_ws * share
    words = f"typical, ±{TYPICAL_UNCERTAINTY_STOPS:g} stop"
    return Output(energy, words)


def stated(luminous_energy_lm_s: float) -> Output:
    """A luminous energy that the scene states [lm·s]."""
    return Output(luminous_energy_lm_s, "stated")


def metered(energies_lm_s: list[float], date: str) -> Output:
    """From real readings: the mean in stops of the energies [lm·s] they imply."""
    energy = float(np.exp2(np.mean(np.log2(energies_lm_s))))
    words = f"metered{f' on {date}' if date else ''}, ±{METERED_UNCERTAINTY_STOPS:g} stop"
    return Output(energy, words)


def axial_exposure(front: Front, distance_m: float, receptor: str) -> float:
    """Luminous exposure straight ahead of a front, facing it [lx·s].

    distance_m : float  from the front's middle, beyond lip and doors
    receptor   : "flat" (cosine) or "dome" ((1 + cos)/2)
    Gauss-Legendre from the middle to the rim (of a ball: to its horizon), even steps around; lip
    and doors hide nothing on the axis, a head before an umbrella does.
    """
    nodes, weights = np.polynomial.legendre.leggauss(96)
    shape, ball = front.shape, isinstance(front.shape, Ball)
    most = np.arccos(min(1.0, 0.5 * front.width_m / distance_m)) / np.pi if ball else 1.0
    s, t = 0.5 * most * (nodes + 1)[:, None], ((np.arange(360) + 0.5) / 360)[None, :]
    laid = places(shape, front.width_m, front.height_m, s, t)
    way = np.array([0.0, 0.0, distance_m]) - laid.at
    distance = np.linalg.norm(way, axis=-1)
    way /= distance[..., None]
    cosine = way[..., 2]
    response = np.maximum(cosine, 0) if receptor == "flat" else 0.5 * (1 + cosine)
    lean = np.abs(np.sum(laid.normal * way, axis=-1))
    lit = radiance_share(front, laid.at, laid.normal, way) * lean * response / distance**2
    lit = np.where(_behind_head(front, laid.at, distance_m), 0.0, lit)
    total = np.sum(0.5 * most * weights[:, None] * laid.area * lit) / 360
    return float(peak_luminance_time(front) * total)


def _behind_head(front: Front, at: Floats, distance_m: float) -> Bools:
    """Whether the head before a hollow cap hides places (..., 3) from a point on the axis."""
    end = head_end_m(front)
    if end is None or front.head_m is None or not 0 < end < distance_m:
        return np.zeros(at.shape[:-1], dtype=np.bool_)
    radius = np.hypot(at[..., 0], at[..., 1])
    passes: Floats = radius * (distance_m - end) / (distance_m - at[..., 2])
    hidden: Bools = passes < 0.5 * front.head_m[0]
    return hidden


def energy_from_reading(
    front: Front, distance_m: float, receptor: str, luminous_exposure: float
) -> float:
    """Luminous energy at the cloth [lm·s] that gives a luminous exposure [lx·s] on the axis."""
    unit = axial_exposure(replace(front, luminous_energy_lm_s=1.0), distance_m, receptor)
    return luminous_exposure / unit
