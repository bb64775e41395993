"""Thin clear sheets, such as spectacle lenses: light goes straight through, less what they mirror.

The sheets stand in a small scene of their own, so that shadow rays of the main scene pass them.
"""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

SHEETS = 8  # that one straight way may cross
STEP_M = 5e-6  # past a sheet that was crossed; some steps of float32 in a room


def past(ray: Any, distance: Any) -> Any:
    """The rest of a ray from just behind a place on it."""
    ahead = distance + STEP_M
    rest = mi.Ray3f(ray)
    rest.o = mi.Point3f(ray.o + ray.d * ahead)
    rest.maxt = ray.maxt - ahead
    return rest


@dr.syntax
def share_through(sheets: Any, ray: Any, active: Any) -> Any:
    """Share of light that comes straight through all sheets on a ray up to its end.

    sheets : scene of nothing but thin sheets
    """
    share = mi.Spectrum(1)
    ray = mi.Ray3f(ray)
    crossed = mi.UInt32(0)
    live = mi.Bool(active)
    while live:
        si = sheets.ray_intersect(ray, mi.RayFlags.All, False, live)
        live &= si.is_valid() & (crossed < SHEETS)
        through = si.bsdf(ray).eval_null_transmission(si, live)
        share = dr.select(live, share * through, share)
        ray = past(ray, si.t)
        crossed += 1
        live &= ray.maxt > 0
    return share


@dr.syntax
def meet(scene: Any, sheets: Any, chance: Any, ray: Any, first: Any, active: Any) -> Any:
    """What a ray meets behind the sheets, or mirrored in them; one or the other by chance.

    first   : what it meets in the scene as if there were no sheets
    returns : that interaction, the weight of the way, whether it is mirrored
    """
    weight = mi.Spectrum(1)
    mirrored = mi.Bool(False)
    ray = mi.Ray3f(ray)
    crossed = mi.UInt32(0)
    live = mi.Bool(active)
    while live:
        near = mi.Ray3f(ray)
        near.maxt = dr.minimum(ray.maxt, first.t)
        si = sheets.ray_intersect(near, mi.RayFlags.All, False, live)
        live &= si.is_valid() & (crossed < SHEETS)
        picks, spot = chance.next_float32(), mi.Point2f(0.5)
        bs, passed = si.bsdf(ray).sample(mi.BSDFContext(), si, picks, spot, live)
        weight = dr.select(live, weight * passed, weight)
        back = live & ~mi.has_flag(bs.sampled_type, mi.BSDFFlags.Null)
        rest = past(ray, si.t)
        first.t = dr.select(live, first.t - si.t - STEP_M, first.t)
        if back:
            rest = si.spawn_ray(si.to_world(bs.wo))
            first = scene.ray_intersect(rest, mi.RayFlags.All, False, back)
        mirrored |= back
        ray = dr.select(live, rest, ray)
        crossed += 1
    return first, weight, mirrored
