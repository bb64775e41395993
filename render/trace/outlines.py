"""Points on flat fronts of any outline, drawn as often as they shine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import drjit as dr
import mitsuba as mi

from render.emission import Cells, Disk, Front, Polygon
from render.trace.directions import opaque
from render.trace.grids import NEAREST_M, Gridded, window

LEAST_FALLOFF = 0.02  # of the density drawn; below, e^-k no longer tells apart from 1 in float32


@dataclass(frozen=True, slots=True, eq=False)
class Rectangular:
    """Even on what the lip of a rectangle leaves in sight."""

    half_width: Any
    half_height: Any
    lip: Any  # depth [m]

    def _windows(self, here: Any) -> tuple[Any, Any, Any, Any]:
        across = window(here.x, self.half_width, here.z, self.lip)
        return *across, *window(here.y, self.half_height, here.z, self.lip)

    def draw(self, u: Any, here: Any) -> tuple[Any, Any]:
        """A point x, y [m] of the front for a place `here` [m], all in the front's axes."""
        left, right, bottom, top = self._windows(here)
        return dr.lerp(left, right, u.x), dr.lerp(bottom, top, u.y)

    def area(self, x: Any, y: Any, here: Any) -> Any:
        """Area that a drawn point stands for [m²]; endless where none is drawn."""
        left, right, bottom, top = self._windows(here)
        drawn = (x >= left) & (x <= right) & (y >= bottom) & (y <= top)
        return dr.select(drawn, (right - left) * (top - bottom), dr.inf)


@dataclass(frozen=True, slots=True, eq=False)
class Cornered:
    """On a regular polygon with flat top, nearly as often as its hot spot shines.

    A place on the outline is drawn evenly, which turns about the middle by equal areas; then the
    square of the way to it, as the hot spot falls off along that way.
    """

    half: Any  # from the middle to a corner
    sides: Any
    whole: Any  # area [m²]
    falloff: Any  # natural, from the middle to a corner

    def draw(self, u: Any, here: Any) -> tuple[Any, Any]:
        """A point x, y [m] of the front for a place `here` [m], all in the front's axes."""
        side = dr.minimum(dr.floor(u.x * self.sides), self.sides - 1)
        step = dr.two_pi / self.sides
        first = step * (side + 0.5) + 0.5 * dr.pi
        x = self.half * dr.lerp(dr.cos(first), dr.cos(first + step), u.y)
        y = self.half * dr.lerp(dr.sin(first), dr.sin(first + step), u.y)
        fall = self._fall(x * x + y * y)
        square = -dr.log(1 - (u.x * self.sides - side) * (1 - dr.exp(-fall))) / fall
        way = dr.sqrt(dr.clip(square, 0, 1))
        return way * x, way * y

    def _fall(self, square_m2: Any) -> Any:
        """Falloff to a place of this squared distance from the middle."""
        return self.falloff * square_m2 / (self.half * self.half)

    def area(self, x: Any, y: Any, here: Any) -> Any:
        """Area that a drawn point stands for [m²]."""
        reach = self._apothem / self._off_a_side(x, y)
        fall = self._fall(reach * reach)
        return self.whole * (1 - dr.exp(-fall)) / fall * dr.exp(self._fall(x * x + y * y))

    @property
    def _apothem(self) -> Any:
        return self.half * dr.cos(dr.pi / self.sides)

    def _off_a_side(self, x: Any, y: Any) -> Any:
        """Cosine of the angle between the way to a place and that to the middle of its side."""
        step = dr.two_pi / self.sides
        turn = dr.atan2(y, x) - 0.5 * dr.pi + 0.5 * step
        return dr.cos(turn - step * dr.floor(turn / step) - 0.5 * step)

    def holds(self, x: Any, y: Any) -> Any:
        """Whether a point lies within the outline."""
        return dr.sqrt(x * x + y * y) * self._off_a_side(x, y) <= self._apothem


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """On a disk as often as hot spot and deflector shine: the square of the radius is drawn."""

    half: Any
    falloff: Any  # natural, from the middle to the rim
    hole: Any  # square of the deflector's share of the diameter
    hole_share: Any

    def _within(self, square: Any) -> Any:
        return (1 - dr.exp(-self.falloff * square)) / self.falloff

    @property
    def _light(self) -> tuple[Any, Any]:
        """Light behind the deflector and in the ring around it."""
        hole = self._within(self.hole)
        return self.hole_share * hole, self._within(mi.Float(1)) - hole

    def draw(self, u: Any, here: Any) -> tuple[Any, Any]:
        """A point x, y [m] of the front for a place `here` [m], all in the front's axes."""
        inner, ring = self._light
        light = u.x * (inner + ring)
        even = dr.select(
            light < inner, light / self.hole_share, light - inner + self._within(self.hole)
        )
        square = -dr.log(1 - self.falloff * even) / self.falloff
        radius = self.half * dr.sqrt(dr.clip(square, 0, 1))
        turn = dr.two_pi * u.y
        return radius * dr.cos(turn), radius * dr.sin(turn)

    def area(self, x: Any, y: Any, here: Any) -> Any:
        """Area that a drawn point stands for [m²]."""
        square = (x * x + y * y) / (self.half * self.half)
        inner, ring = self._light
        share = dr.select(square < self.hole, self.hole_share, 1) * dr.exp(-self.falloff * square)
        return dr.pi * self.half * self.half * (inner + ring) / share

    def holds(self, x: Any, y: Any) -> Any:
        """Whether a point lies within the outline."""
        return x * x + y * y <= self.half * self.half


@dataclass(frozen=True, slots=True, eq=False)
class Tube:
    """On the disk at the bottom of a deep round tube: as little more as can be than is in sight.

    From beside the axis the mouth, thrown on the disk from there, is a larger circle aside. What
    the two share lies in a box whose sides look along the shift and across it.
    """

    half: Any
    depth: Any

    def _box(self, here: Any) -> tuple[Any, Any, Any, Any]:
        """Unit shift x, y; where the box begins along it; half its height. Below 0: no box."""
        beyond = dr.maximum(here.z - self.depth, NEAREST_M)
        aside = dr.sqrt(here.x * here.x + here.y * here.y)
        away = dr.rcp(dr.maximum(aside, NEAREST_M))
        mouth, shift = self.half * here.z / beyond, aside * self.depth / beyond
        start = dr.maximum(shift - mouth, -self.half)
        chord = shift * shift + self.half * self.half - mouth * mouth
        chord = dr.clip(chord / dr.maximum(2 * shift, NEAREST_M), 0, self.half)
        height = dr.sqrt(self.half * self.half - chord * chord)
        boxed = (here.z > self.depth) & (2 * height * (self.half - start) < self._whole)
        return -here.x * away, -here.y * away, start, dr.select(boxed, height, -1)

    @property
    def _whole(self) -> Any:
        return dr.pi * self.half * self.half

    def draw(self, u: Any, here: Any) -> tuple[Any, Any]:
        """A point x, y [m] of the front for a place `here` [m], all in the front's axes."""
        along_x, along_y, start, height = self._box(here)
        along, across = start + u.x * (self.half - start), (2 * u.y - 1) * height
        radius, turn = self.half * dr.sqrt(u.x), dr.two_pi * u.y
        x = dr.select(height < 0, radius * dr.cos(turn), along * along_x - across * along_y)
        y = dr.select(height < 0, radius * dr.sin(turn), along * along_y + across * along_x)
        return x, y

    def area(self, x: Any, y: Any, here: Any) -> Any:
        """Area that a drawn point stands for [m²]; endless where none is drawn."""
        along_x, along_y, start, height = self._box(here)
        along, across = x * along_x + y * along_y, y * along_x - x * along_y
        drawn = self.holds(x, y) & (along >= start) & (dr.abs(across) <= height)
        box = dr.select(drawn, 2 * height * (self.half - start), dr.inf)
        return dr.select(height < 0, self._whole, box)

    def holds(self, x: Any, y: Any) -> Any:
        """Whether a point lies within the outline."""
        return x * x + y * y <= self.half * self.half


Outline = Rectangular | Gridded | Cornered | Round | Tube


def outline(front: Front) -> Outline:
    """How points on a flat front are drawn."""
    half_width = 0.5 * front.width_m
    half = opaque(half_width)
    shape = front.shape
    falloff = max(front.edge_falloff_stops * math.log(2), LEAST_FALLOFF)
    if isinstance(shape, Polygon):
        return Cornered(half, opaque(shape.sides), opaque(front.area_m2), opaque(falloff))
    if isinstance(shape, Disk) and front.recess_m > half_width:
        return Tube(half, opaque(front.recess_m))
    if isinstance(shape, Disk):
        hole = (shape.hole_m / front.width_m) ** 2
        return Round(half, opaque(falloff), opaque(hole), opaque(shape.hole_share))
    half_height, lip = opaque(0.5 * front.height_m), opaque(front.recess_m)
    if isinstance(front.cells, Cells):
        slope_x, slope_y = map(opaque, front.cells.slopes)
        return Gridded(half, half_height, slope_x, slope_y, lip)
    return Rectangular(half, half_height, lip)
