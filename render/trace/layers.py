"""Light paths that keep the lights apart: one traversal gives what every light does alone."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

from render.trace import aiming, glass, panels, picking, under
from render.trace.starts import leaving, shadow_ray

PLUGIN = "lightlayers"  # the integrator's name in a scene
ROULETTE_FROM = 2  # vertices after which weak paths may end early
# Chance to go on of a path, over its weight since the first vertex.
ROULETTE_KEPT = 2.0  # the least noise x time of a pale backdrop, at little cost to a face
ROULETTE_KEEPS = 0.99  # at most, so that no path goes on for ever


def balance(pdf: Any, other: Any) -> Any:
    """Power heuristic with exponent 2 between two ways to find the same path."""
    square = pdf * pdf
    weight = square / dr.fma(other, other, square)
    return dr.select(dr.isfinite(weight), weight, 0)


def own_chance(sampler: Any) -> Any:
    """Independent random numbers for the rest of a path.

    The tracer's stratified samplers tie their dimensions together over a long path: with few
    samples per pixel a pale room comes out up to 5 % wrong. They serve the first vertex only.
    """
    bits: Any = dr.reinterpret_array
    high, low = (bits(mi.UInt32, sampler.next_1d()) for _ in range(2))
    state = mi.UInt64(high) << 32 | mi.UInt64(low)
    generator: Any = mi.PCG32
    return generator(initstate=state, initseq=dr.arange(mi.UInt64, dr.width(state)))


def pair(chance: Any) -> Any:
    """A random point of the unit square."""
    return mi.Point2f(chance.next_float32(), chance.next_float32())


class LightLayers(mi.SamplingIntegrator):
    """Path tracing with one linear sRGB layer per light.

    At the first vertex every light is sampled; further on one of them, the likelier the more it
    may give. The sum of the layers is the ordinary path-traced picture.
    """

    def __init__(self, props: Any) -> None:
        super().__init__(props)
        self.max_depth = props.get("max_depth", 8)
        self.count = props.get("lights", 1)
        self.sheets: Any = None  # scene of thin clear sheets, where there are any
        self.under: under.Under | None = None  # skin that light goes under at the first vertex
        self.panels: panels.Panels | None = None  # that light is looked for at the first vertex
        self.haze: Any = None  # dust in the air, where there is any (see `trace.haze`)

    def aov_names(self) -> list[str]:
        """Layer channels, light by light."""
        return [f"{k}.{c}" for k in range(self.count) for c in "RGB"]

    def sample(
        self, scene: Any, sampler: Any, ray: Any, medium: Any = None, active: Any = True
    ) -> Any:
        """What a camera ray sees: the lights themselves and what they light."""
        layers, si, share, _ = self.follow(scene, sampler, ray, active)
        layers = self.add_seen(scene, layers, si, share, active)
        if self.haze is not None:
            layers = self.haze.veil(self, scene, sampler, ray, si, layers)
        channels = [layer[c] for layer in layers for c in range(3)]
        return mi.Spectrum(0), si.is_valid() & active, channels

    def add_seen(self, scene: Any, layers: list[Any], si: Any, weight: Any, active: Any) -> Any:
        """Add the luminance of a front that was hit to that light's layer."""
        hit = si.emitter(scene)
        lit = active & (hit != None)  # noqa: E711 - compares many pointers at once
        shine = dr.select(lit, weight * hit.eval(si, lit), 0)
        return self.add_to(scene, layers, hit, shine)

    def add_to(self, scene: Any, layers: list[Any], light: Any, value: Any) -> list[Any]:
        """Add a value to the layer of the light that each path met."""
        return [
            layer + dr.select(light == emitter.pointer, value, 0)
            for layer, emitter in zip(layers, scene.emitters(), strict=True)
        ]

    def lit(self, scene: Any, sampler: Any, it: Any, response: Any, active: Any) -> list[Any]:
        """Light of every front at a place; response(direction, active) gives value and density."""
        layers = []
        for emitter in scene.emitters():
            ds, weight = emitter.sample_direction(it, sampler.next_2d(active), active)
            seen = active & (ds.pdf != 0) & (dr.max(weight) > 0)
            value, pdf = response(it.to_local(ds.d), seen)
            seen &= dr.max(value) > 0
            ray = shadow_ray(it, ds.p)
            seen &= ~scene.ray_test(ray, seen)
            value = value * weight * balance(ds.pdf, pdf) * self.clear(ray, seen)
            layers.append(dr.select(seen, value, 0))
        return layers

    def one(
        self, scene: Any, chance: Any, at: tuple[Any, list[Any]], active: Any
    ) -> tuple[Any, Any, Any]:
        """A point of one light that shines on a place, its light over its density, and the ray to
        it; the density is 0 where nothing arrives.

        at : the place, and how often each light is picked there
        """
        it, picks = at
        light, own = picking.pick(scene.emitters(), picks, chance.next_float32())
        active = active & (own > 0)
        ds, weight = light.sample_direction(it, pair(chance), active)
        active &= (ds.pdf != 0) & (dr.max(weight) > 0)
        ray = shadow_ray(it, ds.p)
        active &= ~scene.ray_test(ray, active)
        ds.pdf = dr.select(active, ds.pdf * own, 0)
        return ds, dr.select(active, weight / own, 0), ray

    def clear(self, ray: Any, active: Any) -> Any:
        """Share of light that comes through thin sheets on a ray that nothing else stops."""
        return 1.0 if self.sheets is None else glass.share_through(self.sheets, ray, active)

    def first_vertex(
        self, scene: Any, sampler: Any, chance: Any, si: Any, active: Any
    ) -> tuple[list[Any], under.Onward]:
        """Light of every front at the first vertex, and where the path goes from there."""
        if self.under is not None:
            return under.first_vertex(self, scene, (sampler, chance), si, active)
        ctx, bsdf = mi.BSDFContext(), si.bsdf()
        smooth = active & mi.has_flag(bsdf.flags(), mi.BSDFFlags.Smooth)
        aim = aiming.aim_from(self.panels, scene.emitters(), si, smooth)

        def response(wo: Any, seen: Any) -> Any:
            value, pdf = bsdf.eval_pdf(ctx, si, wo, seen)
            return value, pdf if aim is None else aim.density(pdf, si.to_world(wo))

        layers = self.lit(scene, sampler, si, response, smooth)
        u, point = sampler.next_1d(active), sampler.next_2d(active)
        if aim is None:
            return layers, under.Onward(si, *bsdf.sample(ctx, si, u, point, active))
        sampled = bsdf.sample(ctx, si, aim.rest(u), point, active)
        sampled = aim.onward((u, point), si, sampled, response, active)
        return layers, under.Onward(si, *sampled)

    @dr.syntax
    def follow(self, scene: Any, sampler: Any, ray: Any, active: Any) -> Any:
        """Light that leaves the first surface hit, its own emission left out.

        returns : one Spectrum per light, the first surface interaction, the weight of the way
                  there, and whether a sheet mirrored it
        """
        lights = scene.emitters()
        ctx = mi.BSDFContext()
        chance = own_chance(sampler)
        start = scene.ray_intersect(ray, mi.RayFlags.All, True, active)
        share, aside = mi.Spectrum(1), mi.Bool(False)
        if self.sheets is not None:
            start, share, aside = glass.meet(scene, self.sheets, chance, ray, start, active)
        alive = active & start.is_valid() & (self.max_depth > 1)
        layers, onward = self.first_vertex(scene, sampler, chance, start, alive)
        layers = [layer * share for layer in layers]

        bs = onward.sampled
        ray = leaving(onward.leaves, onward.leaves.to_world(bs.wo))
        through: Any = mi.Spectrum(onward.weight) * share
        eta = mi.Float(bs.eta)
        previous = mi.Interaction3f(onward.leaves)
        pdf = mi.Float(bs.pdf)
        delta = mi.Bool(mi.has_flag(bs.sampled_type, mi.BSDFFlags.Delta))
        depth = mi.UInt32(1)
        alive &= dr.max(through) > 0
        lasting = ROULETTE_KEPT * dr.rcp(dr.max(through))

        picks = [mi.Float(0) for _ in lights]
        while alive:
            si = scene.ray_intersect(ray, mi.RayFlags.All, False, alive)
            if self.sheets is not None:
                si, way, mirrored = glass.meet(scene, self.sheets, chance, ray, si, alive)
                through *= way
                delta |= mirrored

            # A front hit by chance shares its light with the sampled one; from the first vertex
            # every front was sampled, later one of them.
            hit = si.emitter(scene)
            lit = alive & (hit != None)  # noqa: E711
            ds = mi.DirectionSample3f(scene, si, previous)
            sampled = hit.pdf_direction(previous, ds, lit & ~delta)
            of_one = picking.chance_of(lights, picks, hit)
            sampled = dr.select(delta, 0, sampled * dr.select(depth == 1, 1, of_one))
            shine = through * hit.eval(si, lit) * balance(pdf, sampled)
            layers = self.add_to(scene, layers, hit, dr.select(lit, shine, 0))

            alive &= si.is_valid() & (depth + 1 < self.max_depth)
            bsdf = si.bsdf(ray)
            smooth = alive & mi.has_flag(bsdf.flags(), mi.BSDFFlags.Smooth)
            picks = picking.chances(lights, si)
            ds, emitted, shadow = self.one(scene, chance, (si, picks), smooth)
            smooth &= ds.pdf != 0
            value, bsdf_pdf, bs, weight = bsdf.eval_pdf_sample(
                ctx, si, si.to_local(ds.d), chance.next_float32(), pair(chance), alive
            )
            found = through * value * emitted * balance(ds.pdf, bsdf_pdf)
            found *= self.clear(shadow, smooth)
            layers = self.add_to(scene, layers, ds.emitter, dr.select(smooth, found, 0))

            ray = leaving(si, si.to_world(bs.wo))
            through *= weight
            eta *= bs.eta
            previous = mi.Interaction3f(si)
            pdf = mi.Float(bs.pdf)
            delta = mi.has_flag(bs.sampled_type, mi.BSDFFlags.Delta)
            depth += 1

            # Russian roulette on weak paths; those of dark places, where the eye sees their light
            # against little other, may be weaker.
            strength = dr.max(through)
            keep = dr.minimum(lasting * strength * eta * eta, ROULETTE_KEEPS)
            judged = depth >= ROULETTE_FROM
            stays = chance.next_float32() < keep
            through = dr.select(judged, through / keep, through)
            alive &= (strength != 0) & (~judged | stays)
        return layers, start, share, aside


mi.register_integrator(PLUGIN, LightLayers)
