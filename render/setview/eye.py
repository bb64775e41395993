"""A pinhole that a set is drawn from: the photographer's own lens, or one in a raised corner."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import direction, facing
from render.layout.placed import View

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Eye:
    """A pinhole and its frame."""

    position_m: Floats  # (3,)
    right: Floats  # (3,) unit
    up: Floats  # (3,) unit
    half_width: float  # slope of the frame's sides against the axis [-]
    half_height: float

    @property
    def back(self) -> Floats:
        """Unit vector from the set to the eye, along the axis."""
        return np.cross(self.right, self.up)

    @staticmethod
    def of(lens: View) -> Eye:
        """The camera's lens with its crop."""
        half_w, half_h = (
            0.5 * side / lens.image_m for side in (lens.frame_width_m, lens.frame_height_m)
        )
        return Eye(lens.position_m, lens.right, lens.up, half_w, half_h)


def pixels(eye: Eye, points: Floats, size_px: tuple[int, int]) -> Floats:
    """Where points (..., 3) [m] fall in a picture: (..., 2) from its top left corner [px].

    Points level with the eye or behind it come out as nan.
    """
    from_eye = points - eye.position_m
    depth = -(from_eye @ eye.back)
    depth = np.where(depth > 1e-6, depth, np.nan)
    x = from_eye @ eye.right / (depth * eye.half_width)
    y = from_eye @ eye.up / (depth * eye.half_height)
    return 0.5 * np.stack([(1 + x) * size_px[0], (1 - y) * size_px[1]], -1)


@dataclass(frozen=True, slots=True)
class Stance:
    """From where a whole set is looked at."""

    azimuth_deg: float  # 0 is from the camera's side, negative from camera left
    elevation_deg: float
    angle_deg: float  # of view, along the longer side of the frame
    margin: float  # share of the frame's half that stays empty at the edges


def eye_over(points: Floats, stance: Stance, size_px: tuple[int, int]) -> Eye:
    """The nearest eye in a given direction that sees all of the points (n, 3) [m]."""
    back = direction(stance.azimuth_deg, stance.elevation_deg)
    right, up = facing(back)
    slope = math.tan(math.radians(stance.angle_deg) / 2)
    wide = np.array(size_px) / max(size_px) * slope
    across, upward = (1 - stance.margin) * wide
    x, y, z = points @ right, points @ up, points @ back
    # A point is within the sides where |x - eye x| <= (eye z - z) · slope: two bounds each way.
    left, most_right = np.max(z * across - x), np.max(z * across + x)
    low, high = np.max(z * upward - y), np.max(z * upward + y)
    away = max((left + most_right) / (2 * across), (low + high) / (2 * upward))
    aside, above = 0.5 * (most_right - left), 0.5 * (high - low)
    position = aside * right + above * up + away * back
    return Eye(position, right, up, float(wide[0]), float(wide[1]))
