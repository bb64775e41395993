"""A trial: trace a lit card of 16 x 16 pixels and see whether the number is right."""

from __future__ import annotations

import math
import sys
from typing import Any

SIDE = 16
REFLECTANCE = 0.5  # under a uniform sky of 1 a matte card shows its reflectance


def trial(variant: str) -> float:
    """Mean of a card under a uniform sky, traced with one variant; truth 0.5."""
    import mitsuba as mi
    import numpy as np

    mi.set_variant(variant)
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 2},
        "sky": {"type": "constant", "radiance": {"type": "rgb", "value": 1.0}},
        "card": {
            "type": "rectangle",
            "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": REFLECTANCE}},
        },
        "sensor": {
            "type": "perspective",
            "fov": 10,
            "to_world": mi.ScalarTransform4f().look_at([0, 0, 3], [0, 0, 0], [0, 1, 0]),
            "film": {
                "type": "hdrfilm",
                "width": SIDE,
                "height": SIDE,
                "rfilter": {"type": "box"},
                "pixel_format": "rgb",
            },
        },
    }
    picture: Any = mi.render(mi.load_dict(scene, optimize=False), spp=16)
    return float(np.mean(np.array(picture)))


if __name__ == "__main__":
    mean = trial(sys.argv[1])
    if not math.isclose(mean, REFLECTANCE, rel_tol=0.01):
        sys.exit(f"the trial gave {mean} for {REFLECTANCE}")
    print("ok")
