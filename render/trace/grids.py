"""Points on the part of a rectangle that its lip leaves in sight, as often as cells are open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import drjit as dr

NEAREST_M = 1e-6  # keeps divisions by lengths finite


def window(here: Any, edge: Any, height: Any, lip: Any) -> tuple[Any, Any]:
    """What a lip leaves in sight of a line from -edge to edge, seen from `here` along it and from
    `height` above it [m]; all of it from within the lip, the upper end below the lower if nothing.

    The lip's opening falls on the line enlarged about the eye.
    """
    beyond = height - lip
    scale = height * dr.rcp(dr.maximum(beyond, NEAREST_M))
    low = dr.maximum(dr.fma(-edge - here, scale, here), -edge)
    high = dr.minimum(dr.fma(edge - here, scale, here), edge)
    return dr.select(beyond > 0, low, -edge), dr.select(beyond > 0, high, edge)


@dataclass(frozen=True, slots=True, eq=False)
class Gridded:
    """Rectangular cells before a rectangle.

    Seen from a place, the open share of the cells falls evenly from straight ahead to nothing,
    along the width and along the height: two tents, cut off at the edges of the front.
    """

    half_width: Any
    half_height: Any
    slope_x: Any  # at which the cells close
    slope_y: Any
    lip: Any  # depth [m]

    def draw(self, u: Any, here: Any) -> tuple[Any, Any]:
        """A point x, y [m] of the front for a place `here` [m], all in the front's axes."""
        across, upwards = self._tents(here)
        return across.draw(u.x), upwards.draw(u.y)

    def area(self, x: Any, y: Any, here: Any) -> Any:
        """Area that a drawn point stands for [m²]; endless where none is drawn."""
        across, upwards = self._tents(here)
        share = across.height(x) * upwards.height(y)
        return dr.select(share > 0, across.whole * upwards.whole / share, dr.inf)

    def open_area(self, here: Any) -> Any:
        """Area of the front, each part by how open its cells are towards a place [m²]."""
        across, upwards = self._tents(here)
        return across.whole * upwards.whole

    def _tents(self, here: Any) -> tuple[Tent, Tent]:
        ahead = dr.maximum(here.z, NEAREST_M)
        across = window(here.x, self.half_width, here.z, self.lip)
        upwards = window(here.y, self.half_height, here.z, self.lip)
        return (
            tent(here.x, self.slope_x * ahead, *across),
            tent(here.y, self.slope_y * ahead, *upwards),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Tent:
    """Height 1 - |x - peak| / reach between two ends."""

    peak: Any
    reach: Any
    low: Any
    high: Any
    below: Any  # area under it left of the lower end
    whole: Any  # and between the edges

    def draw(self, u: Any) -> Any:
        """A place, as often as the tent is high there."""
        share = (self.below + u * self.whole) / self.reach
        left = dr.sqrt(dr.maximum(2 * share, 0)) - 1
        right = 1 - dr.sqrt(dr.maximum(2 - 2 * share, 0))
        x = self.peak + self.reach * dr.select(share < 0.5, left, right)
        return dr.clip(x, self.low, self.high)

    def height(self, x: Any) -> Any:
        """At a place; 0 off the front."""
        height = dr.maximum(1 - dr.abs(x - self.peak) / self.reach, 0)
        return dr.select((x >= self.low) & (x <= self.high) & (self.whole > 0), height, 0)


def tent(peak: Any, reach: Any, low: Any, high: Any) -> Tent:
    """A tent cut off at its ends."""

    def up_to(x: Any) -> Any:
        t = dr.clip((x - peak) / reach, -1, 1)
        return reach * (0.5 + t - 0.5 * t * dr.abs(t))

    below = up_to(low)
    return Tent(peak, reach, low, high, below, dr.maximum(up_to(high) - below, 0))
