"""Renders pickled lamps painted in a signal colour before a white sky; prints the share of it.

The tracer's own camera looks at the lamps' own shapes; paint, sky and integrator are stock parts.
"""

from __future__ import annotations

import json
import pickle
import sys
from pathlib import Path
from typing import Any

import mitsuba as mi
import numpy as np

SAMPLES = 64  # of a pixel

if __name__ == "__main__":
    mi.set_variant(sys.argv[1])
    from render.emission import Front
    from render.layout.placed import Layout, View
    from render.trace.camera import sensor
    from render.trace.nodes import scene_nodes
    from render.trace.stage import stage_of

    def green(_: Front) -> dict[str, Any]:
        return {"type": "area", "radiance": {"type": "rgb", "value": [0.0, 1.0, 0.0]}}

    def signal_share(layout: Layout, view: View, size: tuple[int, int]) -> float:
        """Share of the picture that is not sky: the sky is white, the lamp has no red."""
        nodes = scene_nodes(stage_of(layout, "plain"), green)
        nodes["sky"] = {"type": "constant", "radiance": {"type": "rgb", "value": 1.0}}
        scene: Any = mi.load_dict(nodes, optimize=False)
        paint: Any = mi.traverse(scene)
        shells = [key for key in paint.keys() if "housing" in key and "reflectance" in key]  # noqa: SIM118
        assert shells
        for key in shells:
            paint[key] = type(paint[key])([0.0, 1.0, 0.0])
        paint.update()
        path: Any = mi.load_dict({"type": "path", "max_depth": 3})
        lens = sensor(view, size, SAMPLES, evenly=False)
        film = np.array(mi.render(scene, sensor=lens, integrator=path, spp=SAMPLES, seed=1))
        lamp = film[..., 0] < film[..., 1] - 1e-3
        assert np.all(film[~lamp] > 0.999)  # nothing but lamp and sky
        return float(np.mean(1.0 - film[..., 0]))

    cases = pickle.loads(Path(sys.argv[2]).read_bytes())
    print(json.dumps([signal_share(*case) for case in cases]))
