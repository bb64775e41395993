"""How well each kind of front is sampled: noise of a receptor reading against the plain box's."""

from __future__ import annotations

import time

import numpy as np

from render.emission import Front
from render.trace import Engine, receptor_readings
from tests.modifiers import FRONTS
from tests.sets import front, layout

SAMPLES, REPEATS = 1 << 18, 3
# Where a sitter's face may be, and beside it: 1.2 m ahead on the axis, 15 and 30 degrees off it.
ANGLES = np.radians([0.0, 15.0, 30.0])
PLACES = 1.2 * np.stack([np.sin(ANGLES), 0 * ANGLES, np.cos(ANGLES)], -1)


def emitters() -> dict[str, float]:
    """Variance x time of a flat receptor's reading, each against the plain rectangle's.

    Relative variance, mean of the places that the front lights at all, times the least wall time
    of a few runs; 2 means that twice the time is needed for the same noise.
    """
    with Engine() as engine:
        plain = _cost(engine, front())
        return {
            f"noise_x_time_{name.replace(' ', '_')}": _cost(engine, made) / plain
            for name, made in FRONTS.items()
        }


def _cost(engine: Engine, made: Front) -> float:
    """Relative variance of one sample times seconds."""
    times, spread = [], []
    for seed in range(REPEATS + 1):
        start = time.perf_counter()
        found = receptor_readings(
            layout(made), PLACES, -PLACES / 1.2, "flat", engine=engine, samples=SAMPLES, seed=seed
        )
        times.append(time.perf_counter() - start)
        lit = found.total[:, 0] > found.total.max() / 100
        spread.append(np.mean((found.total_error[lit, 0] / found.total[lit, 0]) ** 2))
    return float(np.mean(spread[1:]) * SAMPLES * min(times[1:]))  # the first run compiles
