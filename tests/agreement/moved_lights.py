"""Moves pickled fronts again and again; prints how many kernels each new set had to compile."""

from __future__ import annotations

import json
import pickle
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import mitsuba as mi
import numpy as np

MOVES = 8
PLACES, AXES = np.array([[0.3, 0.0, 1.5]]), np.array([[0.0, 0.0, -1.0]])

if __name__ == "__main__":
    mi.set_variant(sys.argv[1])
    import drjit as dr

    from render.trace import jobs
    from render.trace.stage import stage_of
    from tests.sets import front, layout, sheet

    def moved(light: Any, k: int, step: int) -> Any:
        """Elsewhere, turned, and a little larger."""
        centre = np.array([1.2 * k + 0.05 * step, 0.1 * step, 0.02 * step])
        turned = front([0.05 * step, 0.1, 1.0], centre)
        size = 1 + 0.02 * step
        return replace(
            light, name=str(k), centre_m=centre, right=turned.right, up=turned.up,
            width_m=size * light.width_m, height_m=size * light.height_m,
        )  # fmt: skip

    dr.set_flag(dr.JitFlag.KernelHistory, True)
    lights = pickle.loads(Path(sys.argv[2]).read_bytes())
    wall = sheet([0, 0, 3], [-1, 0, 0], [0, 1, 0], 3, 3, reflectance=(0.5,) * 3)
    compiled = []
    for step in range(MOVES):
        set_up = layout(*(moved(light, k, step) for k, light in enumerate(lights)), sheets=(wall,))
        stage = stage_of(set_up, "plain")
        dr.kernel_history_clear()
        jobs.receptors(
            stage, stage.key, positions=PLACES, axes=AXES, receptor="flat", samples=64, seed=step
        )
        kernels = dr.kernel_history([dr.KernelType.JIT])
        compiled.append(sum(not kernel["cache_hit"] for kernel in kernels))
    print(json.dumps(compiled))
