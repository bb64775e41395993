"""How well each kind of front is sampled: noise of a receptor reading against the plain box's.

`python -m tests.bench.emitters [--quick]` prints JSON; CPU times of this process and the tracer's.
"""

from __future__ import annotations

import json
import sys

import numpy as np

from render.emission import Front
from render.trace import Engine, ReceptorReading, receptor_readings
from tests.bench.clock import taken_s
from tests.modifiers import FRONTS
from tests.sets import front, layout

SAMPLES, REPEATS = 1 << 18, 3
QUICK = {"octa", "dish", "snoot", "lantern"}
# Where a sitter's face may be, and beside it: 1.2 m ahead on the axis, 15 and 30 degrees off it.
ANGLES = np.radians([0.0, 15.0, 30.0])
DISTANCE_M = 1.2
PLACES = DISTANCE_M * np.stack([np.sin(ANGLES), 0 * ANGLES, np.cos(ANGLES)], -1)


def emitters(quick: bool) -> dict[str, float]:
    """Variance x time of a flat receptor's reading, each against the plain rectangle's.

    Relative variance, mean of the places that the front lights at all, times the least CPU time
    of a few runs; 2 means that twice the time is needed for the same noise.
    """
    with Engine("llvm") as engine:
        plain = _cost(engine, front())
        return {
            name: _cost(engine, made) / plain
            for name, made in FRONTS.items()
            if not quick or name in QUICK
        }


def _cost(engine: Engine, made: Front) -> float:
    """Relative variance of one sample times seconds."""
    times, spread = [], []
    for seed in range(REPEATS + 1):
        read: list[ReceptorReading] = []
        spent, _ = taken_s(lambda seed=seed, read=read: read.append(_read(engine, made, seed)))
        times.append(spent)
        (found,) = read
        lit = found.total[:, 0] > found.total.max() / 100
        spread.append(np.mean((found.total_error[lit, 0] / found.total[lit, 0]) ** 2))
    return float(np.mean(spread[1:]) * SAMPLES * min(times[1:]))  # the first run compiles


def _read(engine: Engine, made: Front, seed: int) -> ReceptorReading:
    way = -PLACES / DISTANCE_M
    lit = layout(made)
    return receptor_readings(lit, PLACES, way, "flat", engine=engine, samples=SAMPLES, seed=seed)


if __name__ == "__main__":
    print(json.dumps(emitters("--quick" in sys.argv)))
