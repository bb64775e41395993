"""A luminous front as a light source: hot spot and grid by formula, one lumen second each."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

from render.emission import Front, peak_luminance_time
from render.trace.materials import Node

FLAT_ENOUGH = 1e-7  # cosine under which a front is seen edge-on and shows nothing


class ShapedFront(mi.Emitter):
    """L(u, v, direction) = L0 · p(u, v) · g(direction) of `render.emission`, on a rectangle.

    Its numbers are opaque to the compiler: a moved or resized front needs no new kernel.
    """

    def __init__(self, props: Any) -> None:
        super().__init__(props)
        self.peak = dr.opaque(mi.Float, props["peak"])
        self.falloff = dr.opaque(mi.Float, props["falloff"])
        self.close_x = dr.opaque(mi.Float, props["close_x"])
        self.close_y = dr.opaque(mi.Float, props["close_y"])
        self.half_width = dr.opaque(mi.Float, props["half_width"])
        self.half_height = dr.opaque(mi.Float, props["half_height"])
        vectors = [mi.Vector3f(props[n]) for n in ("centre", "right", "up", "normal")]
        dr.make_opaque(vectors)
        self.centre, self.right, self.up, self.normal = vectors
        self.m_flags = mi.EmitterFlags.Surface | mi.EmitterFlags.SpatiallyVarying

    def traverse(self, cb: Any) -> None:
        """Parameters that may be changed from outside."""
        cb.put("peak", self.peak, mi.ParamFlags.Differentiable)

    def luminance(self, point: Any, towards: Any) -> Any:
        """Luminance·time of a place on the front in a direction [cd·s/m² per lm·s]."""
        offset = mi.Vector3f(point) - self.centre
        u = dr.dot(offset, self.right) / self.half_width
        v = dr.dot(offset, self.up) / self.half_height
        spot = dr.exp2(-self.falloff * (u * u + v * v))
        ahead = dr.dot(towards, self.normal)
        along = dr.rcp(dr.maximum(ahead, FLAT_ENOUGH))
        open_x = 1 - dr.abs(dr.dot(towards, self.right)) * along * self.close_x
        open_y = 1 - dr.abs(dr.dot(towards, self.up)) * along * self.close_y
        cells = dr.maximum(open_x, 0) * dr.maximum(open_y, 0)
        return mi.Spectrum(dr.select(ahead > 0, self.peak * spot * cells, 0))

    def eval(self, si: Any, active: Any = True) -> Any:
        return dr.select(active, self.luminance(si.p, si.to_world(si.wi)), 0)

    def sample_direction(self, it: Any, sample: Any, active: Any = True) -> Any:
        x, y = (2 * sample.x - 1) * self.half_width, (2 * sample.y - 1) * self.half_height
        point = self.centre + x * self.right + y * self.up
        offset = point - mi.Vector3f(it.p)
        ds: Any = dr.zeros(mi.DirectionSample3f)
        ds.p, ds.n, ds.uv = mi.Point3f(point), mi.Normal3f(self.normal), sample
        ds.time, ds.delta = it.time, False
        ds.dist = dr.norm(offset)
        ds.d = offset / ds.dist
        ds.emitter = mi.EmitterPtr(self)
        ds.pdf = self.pdf_direction(it, ds, active)
        seen = active & (ds.pdf > 0)
        return ds, dr.select(seen, self.luminance(point, -ds.d) / ds.pdf, 0)

    def pdf_direction(self, it: Any, ds: Any, active: Any = True) -> Any:
        facing = -dr.dot(ds.d, self.normal)
        area = 4 * self.half_width * self.half_height
        seen = active & (facing > FLAT_ENOUGH)
        return dr.select(seen, dr.square(ds.dist) / (area * facing), 0)

    def eval_direction(self, it: Any, ds: Any, active: Any = True) -> Any:
        return dr.select(active, self.luminance(ds.p, -ds.d), 0)

    def bbox(self) -> Any:
        return self.get_shape().bbox()

    def to_string(self) -> str:
        return "ShapedFront[]"


mi.register_emitter("shapedfront", ShapedFront)


def shaped_emission(front: Front) -> Node:
    """Light source of a front, exact for hot spot and grid."""
    close = [1 / slope for slope in front.cells.slopes] if front.cells else [0.0, 0.0]
    return {
        "type": "shapedfront",
        "peak": float(peak_luminance_time(front, 1.0)),
        "falloff": front.edge_falloff_stops,
        "close_x": close[0],
        "close_y": close[1],
        "half_width": front.width_m / 2,
        "half_height": front.height_m / 2,
        "centre": list(front.centre_m),
        "right": list(front.right),
        "up": list(front.up),
        "normal": list(front.normal),
    }
