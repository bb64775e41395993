"""What a picture shows without light: the colour of every surface and the way it faces."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np

from render.layout.placed import View
from render.trace.camera import sensor

# Shading normals are left out: the tracer gives those of a relief in axes of its own.
INTEGRATOR = {"type": "aov", "aovs": "albedo:albedo,normal:geo_normal"}


def film(
    scene: Any, view: View, size_px: tuple[int, int], samples: int, seed: int, evenly: bool = True
) -> Any:
    """Means over some samples per pixel.

    returns : (h, w, 6) float32  diffuse reflectance in linear sRGB, then the unit normal in the
              room, averaged; zero where nothing is met
    """
    lens = sensor(view, size_px, samples, evenly)
    integrator: Any = mi.load_dict(INTEGRATOR)
    made: Any = mi.render(scene, integrator=integrator, sensor=lens, spp=samples, seed=seed)
    means = np.array(made)[..., -6:].astype(np.float32)
    return np.nan_to_num(means, copy=False, posinf=0.0, neginf=0.0)
