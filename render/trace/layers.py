"""Light paths that keep the lights apart: one traversal gives what every light does alone."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

PLUGIN = "lightlayers"  # the integrator's name in a scene
ROULETTE_FROM = 3  # vertices after which weak paths may end early: 15 % less noise x time than 5
SHADOW_ENDS = 1 - 2e-5  # of the way; some hundred float32 steps
ROULETTE_KEEPS = 0.95  # at most, so that no path goes on for ever


def balance(pdf: Any, other: Any) -> Any:
    """Power heuristic with exponent 2 between two ways to find the same path."""
    square = pdf * pdf
    weight = square / dr.fma(other, other, square)
    return dr.select(dr.isfinite(weight), weight, 0)


def shadow_ray(it: Any, point: Any) -> Any:
    """Ray to a point on a front that ends just before it.

    The stock one stops 0.9 mm per metre short, which lets light slip under a lip.
    """
    ray = it.spawn_ray_to(point)
    ray.maxt = dr.norm(mi.Vector3f(point - ray.o)) * SHADOW_ENDS
    return ray


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

    At the first vertex every light is sampled; further on one of them, picked evenly. The sum of
    the layers is the ordinary path-traced picture.
    """

    def __init__(self, props: Any) -> None:
        super().__init__(props)
        self.max_depth = props.get("max_depth", 8)
        self.count = props.get("lights", 1)

    def aov_names(self) -> list[str]:
        """Layer channels, light by light."""
        return [f"{k}.{c}" for k in range(self.count) for c in "RGB"]

    def sample(
        self, scene: Any, sampler: Any, ray: Any, medium: Any = None, active: Any = True
    ) -> Any:
        """What a camera ray sees: the lights themselves and what they light."""
        layers, si = self.follow(scene, sampler, ray, active)
        layers = self.add_seen(scene, layers, si, mi.Spectrum(1), active)
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
        pointers = [mi.EmitterPtr(emitter) for emitter in scene.emitters()]
        return [
            layer + dr.select(light == pointer, value, 0)
            for layer, pointer in zip(layers, pointers, strict=True)
        ]

    def first_vertex(self, scene: Any, sampler: Any, si: Any, bsdf: Any, active: Any) -> Any:
        """Light of every front at the first vertex, and where the path goes from there."""
        ctx = mi.BSDFContext()
        smooth = active & mi.has_flag(bsdf.flags(), mi.BSDFFlags.Smooth)
        layers = []
        for emitter in scene.emitters():
            ds, weight = emitter.sample_direction(si, sampler.next_2d(smooth), smooth)
            lit = smooth & (ds.pdf != 0)
            value, pdf = bsdf.eval_pdf(ctx, si, si.to_local(ds.d), lit)
            lit &= dr.max(value) > 0
            lit &= ~scene.ray_test(shadow_ray(si, ds.p), lit)
            layers.append(dr.select(lit, value * weight * balance(ds.pdf, pdf), 0))
        bs, weight = bsdf.sample(ctx, si, sampler.next_1d(active), sampler.next_2d(active), active)
        return layers, bs, weight

    @dr.syntax
    def follow(self, scene: Any, sampler: Any, ray: Any, active: Any) -> Any:
        """Light that leaves the first surface hit, its own emission left out.

        returns : one Spectrum per light, and the first surface interaction
        """
        count = float(self.count)
        ctx = mi.BSDFContext()
        start = scene.ray_intersect(ray, mi.RayFlags.All, True, active)
        alive = active & start.is_valid() & (self.max_depth > 1)
        bsdf = start.bsdf(ray)
        layers, bs, weight = self.first_vertex(scene, sampler, start, bsdf, alive)

        ray = start.spawn_ray(start.to_world(bs.wo))
        through: Any = mi.Spectrum(weight)
        eta = mi.Float(bs.eta)
        previous = mi.Interaction3f(start)
        chance = own_chance(sampler)
        pdf = mi.Float(bs.pdf)
        delta = mi.Bool(mi.has_flag(bs.sampled_type, mi.BSDFFlags.Delta))
        depth = mi.UInt32(1)
        alive &= dr.max(through) > 0

        while alive:
            si = scene.ray_intersect(ray, mi.RayFlags.All, False, alive)

            # A front hit by chance shares its light with the sampled one; from the first vertex
            # every front was sampled, later one of them.
            hit = si.emitter(scene)
            lit = alive & (hit != None)  # noqa: E711
            ds = mi.DirectionSample3f(scene, si, previous)
            sampled = hit.pdf_direction(previous, ds, lit & ~delta)
            sampled = dr.select(delta, 0, sampled / dr.select(depth == 1, 1, count))
            shine = through * hit.eval(si, lit) * balance(pdf, sampled)
            layers = self.add_to(scene, layers, hit, dr.select(lit, shine, 0))

            alive &= si.is_valid() & (depth + 1 < self.max_depth)
            bsdf = si.bsdf(ray)
            smooth = alive & mi.has_flag(bsdf.flags(), mi.BSDFFlags.Smooth)
            ds, emitted = scene.sample_emitter_direction(si, pair(chance), True, smooth)
            smooth &= ds.pdf != 0
            value, bsdf_pdf, bs, weight = bsdf.eval_pdf_sample(
                ctx, si, si.to_local(ds.d), chance.next_float32(), pair(chance), alive
            )
            found = through * value * emitted * balance(ds.pdf, bsdf_pdf)
            layers = self.add_to(scene, layers, ds.emitter, dr.select(smooth, found, 0))

            ray = si.spawn_ray(si.to_world(bs.wo))
            through *= weight
            eta *= bs.eta
            previous = mi.Interaction3f(si)
            pdf = mi.Float(bs.pdf)
            delta = mi.has_flag(bs.sampled_type, mi.BSDFFlags.Delta)
            depth += 1

            # Russian roulette on weak paths.
            strength = dr.max(through)
            keep = dr.minimum(strength * eta * eta, ROULETTE_KEEPS)
            judged = depth >= ROULETTE_FROM
            stays = chance.next_float32() < keep
            through = dr.select(judged, through / keep, through)
            alive &= (strength != 0) & (~judged | stays)
        return layers, start


mi.register_integrator(PLUGIN, LightLayers)
