"""Fronts on the plain engine: stock light sources where they are exact, else the emission model."""

from __future__ import annotations

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
    Honeycomb,
    Matte,
    Polygon,
    Rectangle,
    hot_spot,
    peak_luminance_time,
    radiance_share,
)
from render.emission.shapes import within
from render.trace.fronts import per_lumen_second
from render.trace.materials import Node, image
from render.trace.starts import SHADOW_ENDS

HOT_SPOT_TEXELS = 64


def stock(front: Front) -> bool:
    """Whether the tracer's own area light shows a front exactly, given real walls for its grid."""
    if not isinstance(front.beam, Matte) or isinstance(front.cells, Honeycomb):
        return False
    if isinstance(front.shape, Rectangle | Ball):
        return True
    even = front.edge_falloff_stops == 0 and front.cells is None and front.recess_m == 0
    deflected = isinstance(front.shape, Disk) and front.shape.hole_m > 0
    return even and not deflected and not isinstance(front.shape, Cap)


def plain_emission(front: Front) -> Any:
    """Light source of a front, per lumen second."""
    if not stock(front):
        return ModelFront(front)
    peak = float(peak_luminance_time(front, 1.0))
    if front.edge_falloff_stops == 0 or isinstance(front.shape, Ball):
        return {"type": "area", "radiance": {"type": "rgb", "value": peak}}
    middle = (np.arange(HOT_SPOT_TEXELS) + 0.5) / HOT_SPOT_TEXELS * 2 - 1
    falloff = hot_spot(front, middle[None, :], middle[:, None])
    return _mapped(peak * falloff)


def _mapped(luminance: Any) -> Node:
    return {"type": "area", "radiance": image(luminance[..., None].repeat(3, -1), "clamp")}


class ModelFront(mi.Emitter):
    """A light source that asks the emission model for every ray: slow, and right by definition."""

    def __init__(self, front: Front) -> None:
        super().__init__(mi.Properties())
        self.front = front
        self.peak = per_lumen_second(front)
        self.axes = np.stack([front.right, front.up, front.normal], -1)
        self.m_flags = mi.EmitterFlags.Surface | mi.EmitterFlags.SpatiallyVarying

    def luminance(self, point: Any, normal: Any, towards: Any) -> Any:
        """Luminance·time of a place on the front in a direction [cd·s/m² per lm·s]."""
        at = (np.array([*point]) - self.front.centre_m) @ self.axes
        facing, way = np.array([[*normal], [*towards]]) @ self.axes
        share = radiance_share(self.front, at, facing, way)
        if self._hidden(at, way):
            return mi.Spectrum(0.0)
        return mi.Spectrum(self.peak * float(share))

    def _hidden(self, at: Any, way: Any) -> bool:
        """Whether the lip of a round or polygonal front is in the way."""
        front = self.front
        if front.recess_m == 0 or not isinstance(front.shape, Polygon | Disk) or way[2] <= 0:
            return False
        ahead = at + way * front.recess_m / way[2]
        return not bool(within(front.shape, (front.width_m, front.height_m), ahead))

    def eval(self, si: Any, active: Any = True) -> Any:
        return self.luminance(si.p, si.n, si.to_world(si.wi)) if active else mi.Spectrum(0.0)

    def sample_direction(self, it: Any, sample: Any, active: Any = True) -> Any:
        ds: Any = self.get_shape().sample_direction(it, sample, active)
        if not active or ds.pdf <= 0 or self._seen_edge_on(ds):
            ds.pdf = 0.0
            return ds, mi.Spectrum(0.0)
        light = self.luminance(ds.p, ds.n, -ds.d) / ds.pdf
        # The stock shadow ray ends 0.9 mm per metre short of its aim, which would let light slip
        # under lips and doors: so its aim lies as much behind.
        reach = ds.dist * SHADOW_ENDS / (1 - mi.math.ShadowEpsilon)
        ds.p = mi.Point3f(it.p + ds.d * reach)
        return ds, light

    def _seen_edge_on(self, ds: Any) -> bool:
        return isinstance(self.front.shape, FLAT) and bool(dr.dot(ds.d, ds.n) >= 0)

    def pdf_direction(self, it: Any, ds: Any, active: Any = True) -> Any:
        return self.get_shape().pdf_direction(it, ds, active) if active else 0.0

    def eval_direction(self, it: Any, ds: Any, active: Any = True) -> Any:
        return self.luminance(ds.p, ds.n, -ds.d) if active else mi.Spectrum(0.0)

    def bbox(self) -> Any:
        return self.get_shape().bbox()

    def to_string(self) -> str:
        return "ModelFront[]"
