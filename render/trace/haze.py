"""Dust in the air before the set: what it scatters of every light, and what it takes away.

Seen by the camera alone. Light that dust scatters a second time is left out: so dense that it hides
half of what is behind it, dust is darker here than it would be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import drjit as dr
import mitsuba as mi

from render.layout.dust_grid import density_grid
from render.layout.placed import Cloud
from render.photometry.scattering import drawn_cosine, phase
from render.trace.directions import opaque
from render.trace.layers import own_chance, pair
from render.trace.starts import shadow_ray

STEPS, LIGHT_STEPS = 48, 8  # along a line of sight, and from dust to a light; each jittered
NO_DUST = 1e-9  # keeps a quotient finite


@dataclass(frozen=True, eq=False)
class Haze:
    """All dust of a set."""

    grid: Any  # texture of what is hidden and what is scattered in red, green and blue [1/m]
    low: Any  # corner of its box [m]
    size: Any  # and the sides of the box [m]

    def at(self, point: Any) -> list[Any]:
        """What is hidden and what is scattered per metre [1/m], (1 + 3) numbers."""
        place = [(p - a) / s for p, a, s in zip(point, self.low, self.size, strict=True)]
        found = self.grid.eval(mi.Point3f(*place))
        within = dr.all((mi.Point3f(*place) >= 0) & (mi.Point3f(*place) <= 1))
        return [dr.select(within, each, 0) for each in found]

    def span(self, ray: Any, end: Any) -> tuple[Any, Any]:
        """Where on a ray the box begins and ends, before `end`; the same twice if it is missed."""
        near, far = mi.Float(0), mi.Float(end)
        for origin, way, low, size in zip(ray.o, ray.d, self.low, self.size, strict=True):
            inverse = dr.rcp(dr.select(dr.abs(way) < NO_DUST, NO_DUST, way))
            one, other = (low - origin) * inverse, (low + size - origin) * inverse
            near = dr.maximum(near, dr.minimum(one, other))
            far = dr.minimum(far, dr.maximum(one, other))
        return near, dr.maximum(near, far)

    def depth(self, ray: Any, end: Any, chance: Any, active: Any) -> Any:
        """Optical depth of dust on a ray up to `end` [m]."""
        near, far = self.span(ray, end)
        step = (far - near) / LIGHT_STEPS

        def on(k: Any, depth: Any, chance: Any) -> tuple[Any, ...]:
            there = ray(near + step * (mi.Float(k) + chance.next_float32()))
            return k + 1, depth + step * self.at(there)[0], chance

        last = dr.select(active & (far > near), LIGHT_STEPS, 0)
        start = mi.UInt32(0), mi.Float(0), chance
        _, depth, _ = dr.while_loop(start, lambda k, *_: k < last, on)
        return depth

    def look(self, ray: Any, end: Any, chance: Any) -> tuple[Any, Any, Any]:
        """Along a line of sight: optical depth, share of it that is scattered out of the way, and a
        distance [m], drawn as often as what is scattered there reaches the eye."""
        near, far = self.span(ray, end)
        step = (far - near) / STEPS

        def on(k: Any, depth: Any, lost: Any, picked: Any, chance: Any) -> tuple[Any, ...]:
            place = near + step * (mi.Float(k) + chance.next_float32())
            here = step * self.at(ray(place))[0]
            share = dr.exp(-depth) * (1 - dr.exp(-here))
            lost = lost + share
            picked = dr.select(chance.next_float32() * lost < share, place, picked)
            return k + 1, depth + here, lost, picked, chance

        last = dr.select(far > near, STEPS, 0)
        start = mi.UInt32(0), mi.Float(0), mi.Float(0), mi.Float(near), chance
        _, depth, lost, picked, _ = dr.while_loop(start, lambda k, *_: k < last, on)
        return depth, lost, picked

    def veil(
        self, integrator: Any, scene: Any, sampler: Any, ray: Any, si: Any, layers: list[Any]
    ) -> list[Any]:
        """Layers of what lies behind the dust, with the dust before it."""
        chance = own_chance(sampler)
        end = dr.select(si.is_valid(), dr.norm(si.p - ray.o), dr.inf)
        depth, lost, picked = self.look(ray, end, chance)
        it = dr.zeros(mi.Interaction3f, dr.width(picked))
        it.p = ray(picked)
        hidden, *scattered = self.at(it.p)
        colour = mi.Spectrum(*scattered) / dr.maximum(hidden, NO_DUST)
        meets = lost > 0
        through = dr.exp(-depth)
        veiled = []
        for layer, emitter in zip(layers, scene.emitters(), strict=True):
            ds, light = emitter.sample_direction(it, pair(chance), meets)
            seen = meets & (ds.pdf != 0) & (dr.max(light) > 0)
            shadow = shadow_ray(it, ds.p)
            seen &= ~scene.ray_test(shadow, seen)
            reaches = dr.exp(-self.depth(shadow, shadow.maxt, chance, seen))
            light *= integrator.clear(shadow, seen) * reaches * phase(dr.dot(ds.d, ray.d))
            veiled.append(layer * through + dr.select(seen, lost * colour * light, 0))
        ahead = mi.Ray3f(it.p, self._onward(ray.d, pair(chance)))
        behind, met, *_ = integrator.follow(scene, sampler, ahead, meets)
        far = dr.select(met.is_valid(), dr.norm(met.p - ahead.o), 0)
        weight = colour * lost * dr.exp(-self.depth(ahead, far, chance, meets & met.is_valid()))
        return [one + weight * more for one, more in zip(veiled, behind, strict=True)]

    def _onward(self, way: Any, u: Any) -> Any:
        """A direction as often as light from there is scattered into the way."""
        cosine = drawn_cosine(u.x)
        sine = dr.sqrt(dr.maximum(1 - cosine * cosine, 0))
        turn = dr.two_pi * u.y
        local = mi.Vector3f(sine * dr.cos(turn), sine * dr.sin(turn), cosine)
        return mi.Frame3f(way).to_world(local)


def haze(clouds: tuple[Cloud, ...]) -> Haze:
    """What dust of all these clouds is to the tracer."""
    grid, low, high = density_grid(clouds)
    texture: Any = mi.Texture3f
    corner, sides = ([opaque(float(each)) for each in part] for part in (low, high - low))
    return Haze(texture(mi.TensorXf(grid)), corner, sides)
