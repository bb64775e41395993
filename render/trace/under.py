"""Light under the skin: it enters at one place and leaves a little aside, red the furthest.

Normalised diffusion (Christensen and Burley 2015, "Approximate reflectance profiles for efficient
subsurface scattering"): of the light that the body gives back, the share per area at distance r is
(exp(-r/d) + exp(-r/3d)) / (8 pi d r). Its sum over a plane is 1, so a patch in even light keeps
the albedo that the surface model gives it, channel by channel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.photometry.fresnel import reflected
from render.trace import aiming
from render.trace.glass import past
from render.trace.skin import LEAST_GLOSS, MOST_GLOSS
from render.trace.stage import LUMINANCE

# Mean of the two skins of Jensen et al. 2001, 1 / (reduced scattering + absorption), from memory:
# (0.74, 0.88, 1.01) + (0.032, 0.17, 0.48) and (1.09, 1.59, 1.79) + (0.013, 0.070, 0.145) per mm.
FREE_PATH_M = (1.10e-3, 0.78e-3, 0.59e-3)
# Reach of the profile in lengths d; 0.4 % of its light would go further and is kept within.
REACH = 16.0
KEPT = 1 - 0.25 * np.exp(-REACH) - 0.75 * np.exp(-REACH / 3)
CHANNEL_SHARES = (0.34, 0.50, 0.16)  # of samples; near the channels' shares of a skin's luminance
PROBE_HITS = 6  # surfaces that one probe may meet
NEAREST_M = 1e-7  # the profile has no bound at its middle
TINY = 1e-12
# Everything a surface does, its gloss, its body.
PARTS = (mi.BSDFFlags.All, mi.BSDFFlags.GlossyReflection, mi.BSDFFlags.DiffuseReflection)


@dataclass(frozen=True, slots=True, eq=False)
class Under:
    """The skin that light goes under."""

    shape: Any  # the skin in the scene
    alone: Any  # a scene of nothing but this skin
    albedo: Any  # its texture
    index: float  # refractive index of its boundary


@dataclass(frozen=True, slots=True, eq=False)
class Onward:
    """Where a path goes from its first vertex."""

    leaves: Any  # interaction where it sets out
    sampled: Any  # direction and density
    weight: Any


def lengths(albedo: Any) -> Any:
    """The profile's length d per channel [m] for a body of this albedo.

    d = l / (1.85 - A + 7 |A - 0.8|³) for light that comes from all sides (equation 6 of the
    paper), l the mean free path: dark skin scatters less far.
    """
    free = mi.Spectrum(*FREE_PATH_M)
    return free / (1.85 - albedo + 7 * dr.abs(albedo - 0.8) ** 3)


def profile(radius: Any, length: Any) -> Any:
    """Share of the light per area at a distance, per channel [1/m²]; 0 beyond the reach."""
    r = dr.maximum(radius, NEAREST_M)
    near = dr.exp(-r / (3 * length))
    share = (near * near * near + near) / (8 * dr.pi * float(KEPT) * length * r)
    return dr.select(r < REACH * length, share, 0)


def draw_radius(chance: Any, length: Any) -> Any:
    """A distance as often as the profile sends light there, in a plane [m]."""
    far = chance.next_float32() < 0.75 * (1 - np.exp(-REACH / 3)) / KEPT
    scale = dr.select(far, 3.0, 1.0)
    kept = 1 - dr.exp(-REACH / scale)
    return -length * scale * dr.log(1 - chance.next_float32() * kept)


def worth(offset: Any, normal: Any, axis: Any, frame: Any, length: Any) -> Any:
    """Weight per channel of a place that a probe along an axis met: its light over its chance.

    Each place is shared out between the three axes by how squarely it faces them, (n · axis)⁴
    over the sum: a place is left to the probe that finds it best.
    """
    away = dr.norm(offset)
    along = dr.dot(offset, axis)
    aside = dr.safe_sqrt(dr.square(away) - dr.square(along))
    per_channel = dr.select(away < REACH * length, profile(aside, length), 0)
    chosen = sum(part * per_channel[c] for c, part in enumerate(CHANNEL_SHARES))
    facing = dr.dot(normal, axis)
    squares = (dr.square(dr.dot(normal, other)) for other in (frame.n, frame.s, frame.t))
    squarely = sum(dr.square(square) for square in squares)
    return profile(away, length) * dr.abs(facing) ** 3 / dr.maximum(squarely * chosen, TINY)


def probe(axes: tuple[Any, Any, Any], chance: Any, centre: Any, length: Any) -> Any:
    """A ray along the last of three axes through the ball in which light may leave."""
    pick = chance.next_float32()
    red, green = CHANNEL_SHARES[0], CHANNEL_SHARES[0] + CHANNEL_SHARES[1]
    own = dr.select(pick < red, length.x, dr.select(pick < green, length.y, length.z))
    radius = draw_radius(chance, own)
    turn = dr.two_pi * chance.next_float32()
    x, y = radius * dr.cos(turn), radius * dr.sin(turn)
    half = dr.safe_sqrt(dr.square(REACH * own) - dr.square(radius))
    start = centre + axes[0] * x + axes[1] * y + axes[2] * half
    ray = mi.Ray3f(mi.Point3f(start), mi.Vector3f(-axes[2]))
    ray.maxt = 2 * half
    return ray


@dr.syntax
def leave(under: Any, chance: Any, si: Any, active: Any) -> Any:
    """Where light that the eye sees at `si` leaves the body, and its weight per channel.

    One probe goes along the normal and one across it. Of all places that they meet one is kept,
    by its weight in luminance; on a plane that weight is nearly the same for all.

    returns : interaction seen along its normal, and weights whose mean on a plane is 1
    """
    albedo = under.albedo.eval(si, active)
    length = lengths(albedo)
    grey = albedo * mi.Spectrum(*LUMINANCE)
    alone = under.alone
    frame = mi.Frame3f(si.sh_frame.n)
    kept = dr.zeros(mi.SurfaceInteraction3f)
    weight: Any = mi.Spectrum(0)
    total = mi.Float(0)
    coin = chance.next_float32() < 0.5
    across = dr.select(coin, frame.s, frame.t), dr.select(coin, frame.t, frame.s)
    for axes, times in (((frame.s, frame.t, frame.n), 1.0), ((frame.n, *across), 2.0)):
        ray = probe(axes, chance, si.p, length)
        axis = axes[2]
        live = mi.Bool(active)
        hits = mi.UInt32(0)
        while live:
            at = alone.ray_intersect(ray, mi.RayFlags.All, False, live)
            live &= at.is_valid()
            own = times * worth(mi.Vector3f(at.p - si.p), at.n, axis, frame, length)
            bright = dr.select(live, dr.dot(own, grey), 0)
            total += bright
            taken = live & (chance.next_float32() * total < bright)
            kept = dr.select(taken, at, kept)
            weight = dr.select(taken, own / bright, weight)
            ray = past(ray, at.t)
            hits += 1
            live &= (hits < PROBE_HITS) & (ray.maxt > 0)
    kept.wi = mi.Vector3f(0, 0, 1)
    return kept, dr.select(total > 0, weight * total, 0)


def first_vertex(
    lights: Any, scene: Any, draws: tuple[Any, Any], si: Any, active: Any
) -> tuple[list[Any], Onward]:
    """As `LightLayers.first_vertex`, where skin is lit from below its surface as well.

    The gloss gathers light where the eye looks, the body where the light leaves it, both in every
    sample. Half of the pigment's share is passed on the way in and half on the way out, so the
    map's fine marks keep half of their contrast and blur by half.
    """
    under, (sampler, chance) = lights.under, draws
    bsdf = si.bsdf()
    skin = active & (si.shape == mi.ShapePtr(under.shape)) & (si.wi.z > 0)
    left, tint = leave(under, chance, si, skin)
    seen_in, seen_out = under.albedo.eval(si, skin), under.albedo.eval(left, skin)
    mirrored = mi.fresnel(si.wi.z, under.index)[0]
    upright = float(reflected(1.0, under.index))
    tint *= dr.sqrt(seen_in * dr.rcp(dr.maximum(seen_out, TINY))) * (1 - mirrored) / (1 - upright)
    glossy = mirrored / (mirrored + dr.dot(seen_in, mi.Spectrum(*LUMINANCE)))
    glossy = dr.clip(glossy, LEAST_GLOSS, MOST_GLOSS)

    # What everything but skin shows, and skin's body, gather light in the same rays.
    every, gloss, body = (context(flags) for flags in PARTS)
    at = dr.select(skin, left, si)
    smooth = active & mi.has_flag(bsdf.flags(), mi.BSDFFlags.Smooth)
    aim = aiming.aim_from(lights.panels, scene.emitters(), at, smooth)

    def first_response(wo: Any, seen: Any) -> Any:
        value, pdf = bsdf.eval_pdf(every, at, wo, seen & ~skin)
        below, density = bsdf.eval_pdf(body, at, wo, seen & skin)
        value, pdf = dr.select(skin, below * tint, value), dr.select(skin, density, pdf)
        pdf = pdf if aim is None else aim.density(pdf, at.to_world(wo))
        return value, dr.select(skin, pdf * (1 - glossy), pdf)

    def gloss_response(wo: Any, seen: Any) -> Any:
        value, pdf = bsdf.eval_pdf(gloss, si, wo, seen)
        return value, pdf * glossy

    layers = lights.lit(scene, sampler, at, first_response, smooth)
    shine = lights.lit(scene, sampler, si, gloss_response, skin)
    layers = [below + above for below, above in zip(layers, shine, strict=True)]

    follows = skin & (chance.next_float32() < glossy)
    below = skin & ~follows
    first, second = sampler.next_1d(active), sampler.next_2d(active)
    u = first if aim is None else aim.rest(first)
    plain, weight = bsdf.sample(every, si, u, second, active & ~skin)
    mirror, mirror_weight = bsdf.sample(gloss, si, first, second, follows)
    spread, spread_weight = bsdf.sample(body, left, first, second, below)
    mirror.pdf *= glossy
    spread.pdf *= 1 - glossy
    spread_weight *= tint / (1 - glossy)
    kept = dr.select(below, spread, plain), dr.select(below, spread_weight, weight)
    if aim is not None:
        kept = aim.onward((first, second), at, kept, first_response, active & ~follows)
    sampled = dr.select(follows, mirror, kept[0])
    weight = dr.select(follows, mirror_weight / glossy, kept[1])
    return layers, Onward(dr.select(below, left, si), sampled, weight)


def context(flags: Any) -> Any:
    """Asks a surface for some of its parts only."""
    asked = mi.BSDFContext()
    asked.type_mask = flags
    return asked
