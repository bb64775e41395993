"""The camera as the tracer needs it: a thin lens that looks along an axis at a plane of focus."""

from __future__ import annotations

import math
from typing import Any

import mitsuba as mi
import numpy as np

from render.layout.placed import View
from render.trace.materials import Node

NEAREST_M, FARTHEST_M = 0.01, 100.0  # nothing in a room is nearer or farther


def room_from_camera(view: View) -> mi.ScalarTransform4f:
    """The tracer's camera looks along its +z with +y up, so that its +x is camera left."""
    matrix: Any = np.eye(4)
    matrix[:3, :3] = np.stack([-view.right, view.up, -view.back], -1)
    matrix[:3, 3] = view.position_m
    return mi.ScalarTransform4f(matrix)


def sensor(view: View, size_px: tuple[int, int], samples: int, evenly: bool = True) -> Any:
    """Thin lens, box reconstruction, float32.

    The field narrows a little at close focus, as for a lens that focuses by moving as a whole.
    """
    width, height = size_px
    return mi.load_dict(
        {
            "type": "thinlens",
            "to_world": room_from_camera(view),
            "fov_axis": "x",
            "fov": math.degrees(2 * math.atan(view.frame_width_m / 2 / view.image_m)),
            "aperture_radius": view.focal_length_m / (2 * view.f_number),
            "focus_distance": view.focus_m,
            "near_clip": NEAREST_M,
            "far_clip": FARTHEST_M,
            "sampler": sampler(samples, evenly),
            "film": {
                "type": "hdrfilm",
                "width": width,
                "height": height,
                "rfilter": {"type": "box"},
                "pixel_format": "rgb",
                "component_format": "float32",
            },
        }
    )


def sampler(samples: int, evenly: bool) -> Node:
    """Correlated multi-jitter where only the camera draws numbers, as in a view without light; over
    a whole path it is biased when samples are few."""
    return {"type": "multijitter" if evenly else "independent", "sample_count": samples}
