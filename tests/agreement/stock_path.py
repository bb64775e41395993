"""Renders pickled stages with the tracer's stock parts; prints the means of several runs."""

from __future__ import annotations

import json
import pickle
import sys
from pathlib import Path
from typing import Any

import mitsuba as mi
import numpy as np

RUNS, SAMPLES = 24, 16

if __name__ == "__main__":
    mi.set_variant(sys.argv[1])
    from render.emission import Front, peak_luminance_time
    from render.trace.camera import sensor
    from render.trace.nodes import scene_nodes

    def area(front: Front) -> dict[str, Any]:
        peak = float(peak_luminance_time(front, 1.0))
        return {"type": "area", "radiance": {"type": "rgb", "value": peak}}

    def runs(stage: Any, view: Any, size: tuple[int, int]) -> list[float]:
        scene: Any = mi.load_dict(scene_nodes(stage, area), optimize=False)
        path: Any = mi.load_dict({"type": "path", "max_depth": stage.max_depth, "rr_depth": 1000})
        lens = sensor(view, size, SAMPLES, evenly=False)
        films = (
            mi.render(scene, sensor=lens, integrator=path, spp=SAMPLES, seed=k) for k in range(RUNS)
        )
        return [float(np.mean(np.array(film))) for film in films]

    print(json.dumps([runs(*job) for job in pickle.loads(Path(sys.argv[2]).read_bytes())]))
