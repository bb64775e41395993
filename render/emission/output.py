"""How much light leaves a modifier: from the dial, from a stated energy, or from a real reading."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from render.emission.front import Front, beam, hot_spot, peak_luminance_time

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

    distance_m : float  from the emitting plane, beyond the lip
    receptor   : "flat" (cosine) or "dome" ((1 + cos)/2)
    Gauss-Legendre over one quarter of the front, smooth there; the lip hides nothing on the axis.
    """
    nodes, weights = np.polynomial.legendre.leggauss(48)
    u, v = 0.5 * (nodes + 1)[:, None], 0.5 * (nodes + 1)[None, :]
    x, y = 0.5 * front.width_m * u, 0.5 * front.height_m * v
    squared = x * x + y * y + distance_m**2
    cosine = distance_m / np.sqrt(squared)
    response = cosine if receptor == "flat" else 0.5 * (1 + cosine)
    lit = hot_spot(front, u, v) * beam(front, -x / distance_m, -y / distance_m)
    area = front.area_m2 * 0.25 * weights[:, None] * weights[None, :]
    return float(peak_luminance_time(front) * np.sum(area * lit * response * cosine / squared))


def energy_from_reading(
    front: Front, distance_m: float, receptor: str, luminous_exposure: float
) -> float:
    """Luminous energy at the cloth [lm·s] that gives a luminous exposure [lx·s] on the axis."""
    unit = axial_exposure(replace(front, luminous_energy_lm_s=1.0), distance_m, receptor)
    return luminous_exposure / unit
