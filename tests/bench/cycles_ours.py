"""Our frames of the set for the outside reference, again and again on one thread.

`python -m tests.bench.cycles_ours SURFACE REFLECTANCE OUT.npz WIDTH HEIGHT SAMPLES` renders once
for every seed, a line of its input, and answers each with a line. OUT holds `pictures` (renders, h,
w, 3), the mix of the lights, and processor times [s] of all light frames.
"""

from __future__ import annotations

import sys
import time
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.trace.choice import VARIANTS
from render.trace.tally import chunk_samples, chunks_for
from tests.bench.cycles_set import painted, plain_layout, stage_for

WARMING = 1000  # a seed of none of the renders that count


def main() -> None:
    """Trace as a look does, chunk by chunk, each render with seeds of its own."""
    surface, reflectance, target, *numbers = sys.argv[1:7]
    width, height, samples = map(int, numbers)
    mi.set_variant(VARIANTS["llvm"])
    dr.set_thread_count(1)
    from render.trace import jobs

    layout = painted(plain_layout(), float(reflectance))
    stage, chunks = stage_for(layout, surface), chunks_for(samples)
    energies = [front.luminous_energy_lm_s for front in layout.fronts]

    def render(number: int) -> tuple[Any, float]:
        start, mean = time.process_time(), np.zeros(())
        for chunk in range(chunks):
            count, seed = chunk_samples(chunk), number * chunks + chunk
            frames = jobs.chunk(stage, "bench", layout.view, (width, height), count, seed)
            mean = mean + frames * (count / samples)
        spent = time.process_time() - start
        return np.tensordot(energies, mean, 1), spent

    render(WARMING)  # builds and compiles
    made = []
    for seed in sys.stdin:
        made.append(render(int(seed)))
        print("rendered", int(seed), flush=True)
    np.savez(
        target,
        pictures=np.array([picture for picture, _ in made]),
        processor_s=np.array([spent for _, spent in made]),
    )


if __name__ == "__main__":
    main()
