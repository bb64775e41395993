"""Where a front sends its light: evenly, in a beam, as measured, and what a grid lets through."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
GRAZING = 1e-3  # cosine under which a measured intensity is no longer divided by it


@dataclass(frozen=True, slots=True)
class Matte:
    """The same luminance in every direction (Lambert)."""


@dataclass(frozen=True, slots=True)
class Lobe:
    """A beam about the front's axis: luminance 2^-((tan θ / tan θ0)²), fading to nothing at 90°.

    Its width is the full angle at which the intensity of a small front is half of that ahead.
    """

    width_deg: float  # below 120, which would be matte

    @property
    def slope(self) -> float:
        """tan θ0. At the half angle a: cos a · 2^-((tan a / slope)²) = 1/2."""
        half = math.radians(0.5 * self.width_deg)
        return math.tan(half) / math.sqrt(1 + math.log2(math.cos(half)))


@dataclass(frozen=True, slots=True)
class Tabulated:
    """A measured beam: intensities around the front's axis, interpolated linearly in angle."""

    gammas_deg: Floats  # (g,) from the axis, ascending from 0 to at most 90
    planes_deg: Floats  # (p,) around it, 0 along `right`, 90 along `up`; ascending from 0 to 360
    intensity: Floats  # (p, g) relative


Beam = Matte | Lobe | Tabulated


@dataclass(frozen=True, slots=True)
class Cells:
    """A fabric grid of rectangular cells in front of the cloth; its walls are black."""

    width_m: float  # of one cell, along `right`
    height_m: float  # of one cell, along `up`
    depth_m: float

    @property
    def slopes(self) -> tuple[float, float]:
        """Tangents of the angles at which the cells close, along `right` and `up`."""
        return self.width_m / self.depth_m, self.height_m / self.depth_m


@dataclass(frozen=True, slots=True)
class Honeycomb:
    """A metal grid of regular hexagonal cells with black walls, two of them along `right`."""

    width_m: float  # of one cell, across its flats
    depth_m: float

    @property
    def slopes(self) -> tuple[float, float]:
        """Tangents of the angles at which the cells close: across flats, across corners."""
        across = self.width_m / self.depth_m
        return across, across * 2 / math.sqrt(3)


def beam_factor(beam: Beam, slope_x: Floats, slope_y: Floats) -> Floats:
    """Luminance in a direction relative to that which sets the scale (see `beam_integral`).

    slope_x, slope_y : (...) float  direction's x/z and y/z in the front's local axes
    """
    if isinstance(beam, Matte):
        return np.ones(np.broadcast(slope_x, slope_y).shape)
    square = slope_x * slope_x + slope_y * slope_y
    if isinstance(beam, Lobe):
        return np.exp2(-square / beam.slope**2)
    gamma = np.degrees(np.arctan(np.sqrt(square)))
    plane = np.mod(np.degrees(np.arctan2(slope_y, slope_x)), 360)
    cosine = np.maximum(1 / np.sqrt(1 + square), GRAZING)
    return tabulated_intensity(beam, gamma, plane) / cosine


def tabulated_intensity(beam: Tabulated, gamma_deg: Floats, plane_deg: Floats) -> Floats:
    """Relative intensity (...), linear between the table's angles, 0 beyond its last gamma."""
    gammas, planes, table = beam.gammas_deg, beam.planes_deg, beam.intensity
    i = np.clip(np.searchsorted(planes, plane_deg, "right") - 1, 0, len(planes) - 2)
    j = np.clip(np.searchsorted(gammas, gamma_deg, "right") - 1, 0, len(gammas) - 2)
    u = (plane_deg - planes[i]) / (planes[i + 1] - planes[i])
    v = (gamma_deg - gammas[j]) / (gammas[j + 1] - gammas[j])
    low = (1 - u) * table[i, j] + u * table[i + 1, j]
    high = (1 - u) * table[i, j + 1] + u * table[i + 1, j + 1]
    found: Floats = np.where(gamma_deg <= gammas[-1], (1 - v) * low + v * high, 0.0)
    return found


def beam_integral(beam: Beam) -> float:
    """∫ factor · cos θ dω over the half space ahead [sr]; π for a matte front.

    Lobe: π · e^k · E2(k) with k = ln 2 / slope² (exponential integral). Tabulated: sin θ is
    integrated exactly against each linear piece.
    """
    if isinstance(beam, Matte):
        return math.pi
    if isinstance(beam, Lobe):
        from scipy.special import expn  # a large library, needed nowhere else here

        k = math.log(2) / beam.slope**2
        return float(math.pi * math.exp(k) * expn(2, k))
    gamma = np.radians(beam.gammas_deg)
    step = np.diff(gamma)
    rise = np.diff(np.sin(gamma)) / step
    # ∫ sin over a piece, weighted by the falling and by the rising hat.
    first = np.cos(gamma[:-1]) - rise
    second = rise - np.cos(gamma[1:])
    over_gamma = beam.intensity[:, :-1] @ first + beam.intensity[:, 1:] @ second
    around = np.diff(np.radians(beam.planes_deg))
    return float(np.sum(around * 0.5 * (over_gamma[1:] + over_gamma[:-1])))


def cells_share(cells: Cells | Honeycomb | None, slope_x: Floats, slope_y: Floats) -> Floats:
    """Share of the cloth seen through a grid from a direction: overlap of a cell's two openings.

    slope_x, slope_y : (...) float  direction's x/z and y/z in the front's local axes
    returns          : (...) float  1 without a grid. Exact for parallel light; seen from near by, a
                       real grid of cells d deep differs by up to about d / (2 · distance): 0.05
                       stop at 1 m with 5 cm cells

    Rectangular cells: (1 - |tx|/ax)(1 - |ty|/ay). Hexagons of half width a across flats whose
    openings are displaced by (dx, dy): with the displacement's three shares across flats
    p1 >= p2 >= p3 and h = a - p/2, the overlap of area 2√3·a² is (8·h2·h3 - 2a²)/√3, and
    8·h1·h2/√3 where p2 > a (three strips of half widths h about one middle; derived here).
    """
    if cells is None:
        return np.ones(np.broadcast(slope_x, slope_y).shape)
    if isinstance(cells, Cells):
        ax, ay = cells.slopes
        return np.maximum(0, 1 - np.abs(slope_x) / ax) * np.maximum(0, 1 - np.abs(slope_y) / ay)
    half = 0.5 * cells.width_m / cells.depth_m  # everything per depth
    slanted = 0.5 * slope_x, 0.5 * math.sqrt(3) * slope_y
    strips = np.broadcast_arrays(slope_x, slanted[0] + slanted[1], slanted[0] - slanted[1])
    p3, p2, p1 = np.sort(np.abs(np.stack(strips)), axis=0)
    h1, h2, h3 = (np.maximum(half - 0.5 * p, 0) for p in (p1, p2, p3))
    overlap = np.where(p2 > half, h1 * h2, h2 * h3 - 0.25 * half * half)
    share: Floats = np.maximum(overlap, 0) * 4 / (3 * half * half)
    return share
