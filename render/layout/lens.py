"""The camera as a thin lens in the room."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import facing, unit
from render.layout.placed import View
from render.studio.camera import Camera

Floats = NDArray[np.float64]
FRAME_BELOW_EYES_M = 0.12  # head and shoulders sit well in the frame; common practice, no source


def view(camera: Camera, eyes: Floats, focus_at: Floats) -> View:
    """Place the camera; `eyes` (3,) and `focus_at` (3,) in metres."""
    height = float(eyes[1]) if camera.height_m is None else camera.height_m
    aim_height = (
        float(eyes[1]) - FRAME_BELOW_EYES_M if camera.aim_height_m is None else camera.aim_height_m
    )
    position = np.array([0.0, height, camera.distance_m])
    back = unit(position - np.array([0.0, aim_height, 0.0]))
    right, up = facing(back)
    width, height_m = frame_m(camera)
    return View(
        position,
        right,
        up,
        camera.focal_length_mm / 1000,
        camera.f_number,
        width,
        height_m,
        float((position - focus_at) @ back),
    )


def frame_m(camera: Camera) -> tuple[float, float]:
    """Width and height of the cropped frame on the sensor [m]."""
    short, long = sorted(camera.sensor_mm)
    a, b = sorted(float(side) for side in camera.crop.split(":"))
    frame_short = min(short, long * a / b) / 1000
    frame_long = frame_short * b / a
    return (frame_short, frame_long) if camera.frame == "upright" else (frame_long, frame_short)


def project(lens: View, points: Floats) -> Floats:
    """Where points (..., 3) [m] fall in the picture: (..., 2), 0..1 from its top left corner.

    Points level with the lens or behind it come out as nan.
    """
    relative = points - lens.position_m
    depth = -(relative @ lens.back)
    depth = np.where(depth > 1e-6, depth, np.nan)
    x = relative @ lens.right / depth * lens.image_m / lens.frame_width_m
    y = relative @ lens.up / depth * lens.image_m / lens.frame_height_m
    return np.stack([0.5 + x, 0.5 - y], -1)


def ray_through(lens: View, place: Floats) -> Floats:
    """Unit direction (..., 3) from the lens through places (..., 2) of the picture."""
    x = (place[..., 0] - 0.5) * lens.frame_width_m / lens.image_m
    y = (0.5 - place[..., 1]) * lens.frame_height_m / lens.image_m
    return unit(x[..., None] * lens.right + y[..., None] * lens.up - lens.back)
