"""A luminous front as a light source: hot spot, beam and grid by formula, one lumen second each."""

from __future__ import annotations

import math
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.emission import (
    FLAT,
    Ball,
    Cap,
    Disk,
    Front,
    Matte,
    Rectangle,
    cloth,
    peak_luminance_time,
    side_shares,
)
from render.trace.directions import direction_factors, numbers_in, opaque, opaque_pointer
from render.trace.outlines import outline

FLAT_ENOUGH = 1e-7  # cosine under which a front is seen edge-on and shows nothing
# Rays to a ball end this share of the way before it: where they graze it, single precision meets
# it too soon (measured: 2 % of the light of an 8 cm ball at 3 m).
BEFORE_BALL = 5e-4


class ShapedFront(mi.Emitter):
    """L(place, direction) = L0 · p(place) · g(direction) of `render.emission`, on any shape.

    Points on flat fronts are drawn here, on bowls and balls by the tracer's own shape. Numbers are
    opaque to the compiler: a moved or resized front needs no new kernel.
    """

    def __init__(self, front: Front) -> None:
        super().__init__(mi.Properties())
        self.stand(front)
        self.falloff = opaque(front.edge_falloff_stops)
        self.half_width, self.half_height = opaque(front.width_m / 2), opaque(front.height_m / 2)
        self.outline: Any = outline(front) if isinstance(front.shape, FLAT) else None
        self.area_m2 = opaque(front.area_m2)
        self.reach = opaque(0.5 * math.hypot(front.width_m, front.height_m))
        self.even = isinstance(front.shape, Ball)
        self.all_ways = not isinstance(front.shape, FLAT) and matte(front)
        self.factors = direction_factors(front)
        self.numbers = [numbers_in(factor) for factor in self.factors]
        self.deflector = _deflector(front)
        self.lip = _own_lip(front)
        self.other_side = opaque(side_shares(front)[1])
        self.pointer = opaque_pointer(self)
        self.m_flags = mi.EmitterFlags.Surface | mi.EmitterFlags.SpatiallyVarying

    def stand(self, front: Front) -> None:
        """Stand and look where this front does, which is the same one in all else."""
        # Of a bowl it hangs on its triangles, whose rounding hangs on the place.
        self.peak = opaque(per_lumen_second(front))
        vectors = [
            mi.Vector3f(*map(float, v))
            for v in (front.centre_m, front.right, front.up, front.normal)
        ]
        dr.make_opaque(vectors)
        self.centre, self.right, self.up, self.normal = vectors

    def traverse(self, cb: Any) -> None:
        """Parameters that may be changed from outside."""
        cb.put("peak", self.peak, mi.ParamFlags.Differentiable)

    def luminance(self, point: Any, normal: Any, towards: Any) -> Any:
        """Luminance·time of a place on the front in a direction [cd·s/m² per lm·s]."""
        offset = mi.Vector3f(point) - self.centre
        x, y = dr.dot(offset, self.right), dr.dot(offset, self.up)
        share = self.peak * self._spot(x, y)
        shown: Any = mi.Bool(True)
        if not self.all_ways:
            ahead = dr.dot(towards, self.normal)
            along = dr.rcp(dr.maximum(ahead, FLAT_ENOUGH))
            slope_x = dr.dot(towards, self.right) * along
            slope_y = dr.dot(towards, self.up) * along
            for factor in self.factors:
                share = share * factor(slope_x, slope_y)
            shown = ahead > 0
            if self.lip is not None:
                shown &= self.outline.holds(x + self.lip * slope_x, y + self.lip * slope_y)
        if self.outline is None:
            share *= dr.select(dr.dot(towards, normal) > 0, 1, self.other_side)
        return mi.Spectrum(dr.select(shown, share, 0))

    def _spot(self, x: Any, y: Any) -> Any:
        """Falloff from hot spot to rim, and the deflector's share."""
        if self.even:
            return mi.Float(1)
        u, v = x / self.half_width, y / self.half_height
        square = u * u + v * v
        spot = dr.exp2(-self.falloff * square)
        if self.deflector is not None:
            hole, share = self.deflector
            spot *= dr.select(square < hole, share, 1)
        return spot

    def eval(self, si: Any, active: Any = True) -> Any:
        return dr.select(active, self.luminance(si.p, si.n, si.to_world(si.wi)), 0)

    def sample_direction(self, it: Any, sample: Any, active: Any = True) -> Any:
        if self.outline is None:
            ds: Any = self.get_shape().sample_direction(it, sample, active)
        else:
            ds = self._on_plane(it, sample, active)
        ds.emitter = self.pointer
        seen = active & (ds.pdf > 0)
        light = dr.select(seen, self.luminance(ds.p, ds.n, -ds.d) / ds.pdf, 0)
        if self.even:
            ds.p = mi.Point3f(ds.p - ds.d * (ds.dist * BEFORE_BALL))
        return ds, light

    def _on_plane(self, it: Any, sample: Any, active: Any) -> Any:
        """A point of a flat front as seen from a place."""
        here = self.local(it.p)
        x, y = self.outline.draw(sample, here)
        point = self.centre + x * self.right + y * self.up
        offset = point - mi.Vector3f(it.p)
        ds: Any = dr.zeros(mi.DirectionSample3f)
        ds.p, ds.n, ds.uv = mi.Point3f(point), mi.Normal3f(self.normal), sample
        ds.time, ds.delta = it.time, False
        ds.dist = dr.norm(offset)
        ds.d = offset / ds.dist
        ds.pdf = self._density(ds, x, y, here, active)
        return ds

    def local(self, point: Any) -> Any:
        """A place in the front's own axes [m]."""
        offset = mi.Vector3f(point) - self.centre
        return mi.Point3f(*(dr.dot(offset, axis) for axis in (self.right, self.up, self.normal)))

    def _density(self, ds: Any, x: Any, y: Any, here: Any, active: Any) -> Any:
        """Per solid angle."""
        facing = -dr.dot(ds.d, self.normal)
        area = self.outline.area(x, y, here)
        seen = active & (facing > FLAT_ENOUGH)
        return dr.select(seen, dr.square(ds.dist) / (area * facing), 0)

    def pdf_direction(self, it: Any, ds: Any, active: Any = True) -> Any:
        if self.outline is None:
            return self.get_shape().pdf_direction(it, ds, active)
        at = self.local(ds.p)
        return self._density(ds, at.x, at.y, self.local(it.p), active)

    def eval_direction(self, it: Any, ds: Any, active: Any = True) -> Any:
        return dr.select(active, self.luminance(ds.p, ds.n, -ds.d), 0)

    def bbox(self) -> Any:
        return self.get_shape().bbox()

    def to_string(self) -> str:
        return "ShapedFront[]"


def matte(front: Front) -> bool:
    """Whether every direction is alike."""
    return isinstance(front.beam, Matte) and front.cells is None


def per_lumen_second(front: Front) -> float:
    """L0 [cd·s/m² per lm·s]; a bowl made of facets is a little smaller than its sphere's part."""
    peak = float(peak_luminance_time(front, 1.0))
    if not isinstance(front.shape, Cap):
        return peak
    vertices, triangles = cloth(front)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    return peak * front.area_m2 / float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


def _deflector(front: Front) -> tuple[Any, Any] | None:
    """Square of its share of the diameter, and of the luminance."""
    if not isinstance(front.shape, Disk) or front.shape.hole_m == 0:
        return None
    return opaque((front.shape.hole_m / front.width_m) ** 2), opaque(front.shape.hole_share)


def _own_lip(front: Front) -> Any:
    """Depth of a lip that the front reckons with itself, since shadow rays end a little short.

    Deep tubes are round; the lips of rectangles are shallow and left to the rays.
    """
    if isinstance(front.shape, Rectangle) or front.recess_m == 0:
        return None
    return opaque(front.recess_m) if isinstance(front.shape, FLAT) else None


def shaped_emission(front: Front) -> ShapedFront:
    """Light source of a front, exact for hot spot, beam and grid."""
    return ShapedFront(front)
