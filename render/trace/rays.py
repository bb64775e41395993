"""Single readings by rays: the luminance of a spot as an eye sees it, the light on a receptor."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.trace.aiming import Aim, aim
from render.trace.layers import balance
from render.trace.origins import numbers, sums_by_surface, surface_met
from render.trace.starts import shadow_ray
from render.trace.surfaces import Surfaces

# Integral of the response over all directions [sr]: what a drawn direction stands for.
WEIGHT = {"flat": dr.pi, "dome": dr.two_pi}


def spot_sums(
    scene: Any,
    eyes: Any,
    first: Any,
    counts: Any,
    targets: Any,
    *,
    weights: Any,
    samples: int,
    seed: int,
) -> tuple[Any, Any]:
    """Look from eyes at random points of their patches.

    eyes    : (n, 3) float   where each eye is [m]
    first   : (n,) int       where each patch begins in `targets`
    counts  : (n,) int       its number of points
    targets : (k, 3) float   points of all patches [m]
    weights : (lights, 3)    of red, green and blue in each light's luminance
    returns : two (n, lights) float64: sums and sums of squares of luminance per lm·s
    """
    spot, sampler = _lanes(len(eyes), samples, seed)
    eye = dr.gather(mi.Point3f, _points(eyes), spot)
    start, count = (dr.gather(mi.UInt32, _whole(each), spot) for each in (first, counts))
    pick = dr.minimum(mi.UInt32(sampler.next_1d() * count), count - 1)
    target = dr.gather(mi.Point3f, _points(targets), start + pick)
    ray = mi.Ray3f(eye, mi.Vector3f(dr.normalize(target - eye)))
    integrator = scene.integrator()
    layers, si, way, _ = integrator.follow(scene, sampler, ray, mi.Bool(True))
    layers = integrator.add_seen(scene, layers, si, way, mi.Bool(True))
    return _sums(_luminances(layers, weights), len(eyes))


def receptor_sums(
    scene: Any,
    positions: Any,
    axes: Any,
    receptor: str,
    *,
    weights: Any,
    surfaces: Surfaces,
    samples: int,
    seed: int,
) -> tuple[Any, ...]:
    """Light on receptors that are not in the scene, sampled from the fronts and from themselves.

    positions, axes : (m, 3) float
    receptor        : "flat" (cosine) or "dome" ((1 + cosine) / 2)
    weights         : (lights, 3) of red, green and blue in each light's luminance
    surfaces        : what bounce is told apart by
    returns         : four (m, lights) float64: sums and sums of squares of the bounce, then of
                      all light [lx·s per lm·s]; bounce is what does not come straight from a front;
                      then two (m, lights, surfaces), those of the bounce by where it comes from
    """
    point, sampler = _lanes(len(positions), samples, seed)
    it = dr.zeros(mi.Interaction3f, dr.width(point))
    it.p = dr.gather(mi.Point3f, _points(positions), point)
    axis = mi.Vector3f(dr.gather(mi.Point3f, _points(axes), point))
    integrator = scene.integrator()
    aim = _aim(integrator, scene, it, axis, receptor)
    direct = _straight(scene, it, axis, (receptor, aim), sampler)

    # One ray drawn from the receptor's own response, or towards a panel, carries on as a path.
    towards, density = _onward(it, axis, (receptor, aim), sampler)
    seen = response(receptor, dr.dot(towards, axis))
    weight = dr.select(density > 0, seen / density, 0)
    layers, si, way, mirrored = integrator.follow(scene, sampler, it.spawn_ray(towards), weight > 0)
    bounce = [weight * light for light in _luminances(layers, weights)]

    front, shine = _front_met(scene, it, si, density, mirrored)
    direct = integrator.add_to(scene, direct, front, weight * way * shine)
    total = [b + d for b, d in zip(bounce, _luminances(direct, weights), strict=True)]
    met = numbers(si)
    dr.eval(bounce, total, met)
    apart = sums_by_surface(bounce, surface_met(scene, met, surfaces), len(positions), surfaces)
    whole = [part.sum(-1) for part in apart]  # a sample comes from one surface, squared or not
    return (*whole, *_sums(total, len(positions)), *apart)


def _front_met(scene: Any, it: Any, si: Any, density: Any, mirrored: Any) -> tuple[Any, Any]:
    """The front that a ray from the receptor hits, if any, and its luminance as far as it counts:
    it belongs to the direct light, shared with the sampled one."""
    front = si.emitter(scene)
    lit = (density > 0) & (front != None)  # noqa: E711 - compares many pointers at once
    ds = mi.DirectionSample3f(scene, si, it)
    share = balance(density, front.pdf_direction(it, ds, lit))
    share = dr.select(mirrored, 1, share)
    return front, dr.select(lit, share * front.eval(si, lit), 0)


def _aim(integrator: Any, scene: Any, it: Any, axis: Any, receptor: str) -> Aim | None:
    """How a receptor looks for panels."""
    if integrator.panels is None:
        return None
    wrap = 0.0 if receptor == "flat" else 1.0
    return aim(integrator.panels, scene.emitters(), it.p, axis, wrap, mi.Bool(True))


def _onward(it: Any, axis: Any, held: tuple[str, Aim | None], sampler: Any) -> tuple[Any, Any]:
    """A direction from a receptor and its density."""
    receptor, aimed = held
    point = sampler.next_2d()
    towards = draw(receptor, mi.Frame3f(axis), point)
    if aimed is not None:
        u = sampler.next_1d()
        towards = dr.select(u < aimed.share, aimed.draw(u, point), towards)
    return towards, _density(held, axis, towards)


def _density(held: tuple[str, Aim | None], axis: Any, towards: Any) -> Any:
    """Of the directions of `_onward` per solid angle."""
    receptor, aimed = held
    own = pdf(receptor, dr.dot(towards, axis))
    return own if aimed is None else aimed.density(own, towards)


def _straight(
    scene: Any, it: Any, axis: Any, held: tuple[str, Aim | None], sampler: Any
) -> list[Any]:
    """Light of every front on the receptor, from points drawn on the fronts."""
    found = []
    for emitter in scene.emitters():
        ds, value = emitter.sample_direction(it, sampler.next_2d(), True)
        seen = ds.pdf != 0
        ray = shadow_ray(it, ds.p)
        seen &= ~scene.ray_test(ray, seen)
        share = balance(ds.pdf, _density(held, axis, ds.d))
        value = value * scene.integrator().clear(ray, seen)
        shown = response(held[0], dr.dot(ds.d, axis))
        found.append(dr.select(seen, value * shown * share, 0))
    return found


def response(receptor: str, cosine: Any) -> Any:
    """What a receptor makes of light from an angle with this cosine [-]."""
    return dr.maximum(cosine, 0) if receptor == "flat" else 0.5 * (1 + cosine)


def pdf(receptor: str, cosine: Any) -> Any:
    """Density of `draw` per solid angle."""
    return response(receptor, cosine) / WEIGHT[receptor]


def draw(receptor: str, frame: Any, u: Any) -> Any:
    """A direction around the frame's axis, as often as the receptor responds to it."""
    if receptor == "flat":
        return frame.to_world(mi.warp.square_to_cosine_hemisphere(u))
    # The share of (1 + c) / 2 below c is ((1 + c) / 2)².
    cosine = 2 * dr.sqrt(u.x) - 1
    sine = dr.safe_sqrt(1 - cosine * cosine)
    turn = dr.two_pi * u.y
    return frame.to_world(mi.Vector3f(sine * dr.cos(turn), sine * dr.sin(turn), cosine))


def _lanes(count: int, samples: int, seed: int) -> tuple[Any, Any]:
    """Which reading each sample belongs to, and independent random numbers for them."""
    sampler: Any = mi.load_dict({"type": "independent"})
    sampler.seed(seed, count * samples)
    return dr.arange(mi.UInt32, count * samples) // dr.opaque(mi.UInt32, samples), sampler


def _whole(values: Any) -> Any:
    """Whole numbers; one alone would bring its address into the kernel, which then is compiled
    again whenever that happens to be a rounder or an odder one."""
    if len(values) == 1:
        return dr.opaque(mi.UInt32, int(values[0]))
    return mi.UInt32(np.asarray(values, np.uint32))


def _points(array: Any) -> Any:
    return mi.Point3f(np.ascontiguousarray(np.asarray(array, np.float32).T))


def _luminances(layers: list[Any], weights: Any) -> list[Any]:
    """Luminance of each light's layer; a gel, opaque to the compiler, needs no new kernel."""
    found = []
    for layer, weight in zip(layers, weights, strict=True):
        red, green, blue = (dr.opaque(mi.Float, float(share)) for share in weight)
        found.append(red * layer.x + green * layer.y + blue * layer.z)
    return found


def _sums(values: list[Any], count: int) -> tuple[Any, Any]:
    dr.eval(values)  # all at once: one traversal instead of one per light
    lanes = np.stack([np.array(value, np.float64) for value in values], -1)
    lanes = lanes.reshape(count, -1, len(values))
    return lanes.sum(1), np.square(lanes).sum(1)
