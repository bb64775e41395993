"""The set as it stands: every light, wall, sheet, sitter, camera and meter point in metres.

Room axes: right-handed, metres, origin on the floor under the midpoint of the sitter's eyes,
+y up, +z towards the camera, so +x is camera right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.sitter.body import Body

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bend:
    """How a paper goes on below its upright part: a quarter circle forwards, then flat."""

    radius_m: float
    floor_m: float  # flat length in front of the bend


@dataclass(frozen=True, slots=True)
class Sheet:
    """A rectangle: a wall, the backdrop, a panel. Its front faces right x up.

    Of a paper with a sweep, the rectangle is the upright part; the bend begins at its foot.
    """

    name: str
    kind: str  # "wall", "backdrop" or "panel"
    centre_m: Floats  # (3,)
    right: Floats  # (3,) unit
    up: Floats  # (3,) unit
    width_m: float
    height_m: float
    reflectance: tuple[float, float, float]  # linear sRGB, diffuse, of the front
    back_reflectance: tuple[float, float, float]  # of the back
    roughness: float = 0.0  # of a silver front (see `layout.panels`); 0 is matte
    back_roughness: float = 0.0
    bend: Bend | None = None

    @property
    def area_m2(self) -> float:
        """Area of one side, its bend included [m²]."""
        bend = self.bend
        below = 0.0 if bend is None else 0.5 * math.pi * bend.radius_m + bend.floor_m
        return self.width_m * (self.height_m + below)

    @property
    def normal(self) -> Floats:
        return np.cross(self.right, self.up)

    @property
    def corners_m(self) -> Floats:
        """(4, 3), counter-clockwise seen from the front."""
        x, y = 0.5 * self.width_m * self.right, 0.5 * self.height_m * self.up
        return np.stack([-x - y, x - y, x + y, -x + y]) + self.centre_m


@dataclass(frozen=True, slots=True)
class View:
    """The camera: a thin lens that looks along -back, in an upright or level frame."""

    position_m: Floats  # (3,) entrance pupil
    right: Floats  # (3,) unit
    up: Floats  # (3,) unit
    focal_length_m: float
    f_number: float
    frame_width_m: float  # of the cropped frame on the sensor
    frame_height_m: float
    focus_m: float  # distance of the plane of focus along the axis

    @property
    def back(self) -> Floats:
        """Unit vector from the scene to the camera, along the optical axis."""
        return np.cross(self.right, self.up)

    @property
    def image_m(self) -> float:
        """Distance of the sharp image behind the lens [m]: f·s/(s - f), a little beyond f."""
        return self.focal_length_m * self.focus_m / (self.focus_m - self.focal_length_m)


@dataclass(frozen=True, slots=True)
class MeterPoint:
    """A named place with a direction, where the meter is held or a spot is read."""

    name: str
    position_m: Floats  # (3,)
    normal: Floats  # (3,) unit
    on: str  # "skin", "cloth", "hair", "backdrop" or "free"
    patch_m: Floats  # (k, 3) points of the surface that a spot reading takes in; k = 0 if none
    patch_normals: Floats  # (k, 3)


@dataclass(frozen=True, slots=True)
class Cloud:
    """Particles of one element, each with a place, a size, a turn and looks of its own.

    Their shapes follow from these numbers (see `layout.particles`). Dust is told by its puffs: soft
    balls, each of many particles (see `layout.dust`).
    """

    name: str
    kind: str  # "grains", "flakes", "drops", "curls" or "dust"
    centres_m: Floats  # (n, 3)
    sizes_m: Floats  # (n,)
    turns: Floats  # (n, 3, 3) room axes from the particle's own
    looks: Floats  # (n, LOOKS) in 0..1: what makes one flake or curl unlike the next
    reflectance: tuple[float, float, float]  # linear sRGB, diffuse; of drops not used, of dust
    # the share of the light on a particle that it scatters
    through: tuple[float, float, float]  # the same of light that comes out on the other side
    refractive_index: float  # of drops; 1 for what is opaque
    hides_m2: Floats | None = None  # (n,) of dust: what the particles of each puff hide [m²]


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole set-up, placed. Lights keep the order of the scene file."""

    fronts: tuple[Front, ...]
    sheets: tuple[Sheet, ...]  # walls, ceiling and floor first, then backdrop, then panels
    body: Body | None  # already in room axes
    view: View | None
    points: tuple[MeterPoint, ...]
    key: int  # index of the key in `fronts`
    calibrations: tuple[str, ...] = ()  # how well each light's output is known, in words
    elements: tuple[Cloud, ...] = ()
