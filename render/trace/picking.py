"""Which one light a path asks at its later vertices: the likelier the more it may give there."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

from render.trace.grids import NEAREST_M, Gridded

# Cosines and shares of a beam below this count as this: a front is large, hair lets light through.
# Only a place behind a flat front, or out of sight through its cells, is never given its light.
LEAST = 0.1


def chances(lights: list[Any], it: Any) -> list[Any]:
    """How often each light is picked at a place with a normal; all 0 where none can shine.

    A guess of its irradiance per lumen second, with nothing in between.
    """
    guesses = [guess(light, it) for light in lights]
    total = sum(guesses)
    inverse = dr.select(total > 0, dr.rcp(total), 0)
    return [each * inverse for each in guesses]


def guess(light: Any, it: Any) -> Any:
    """Light of a front at a place, roughly; above 0 wherever there is any."""
    here = light.local(it.p)
    area: Any = light.area_m2
    away = mi.Vector3f(here)
    if isinstance(light.outline, Gridded):
        # From the nearest part: what shines through cells is nearly straight ahead.
        area = light.outline.open_area(here)
        away.x -= dr.clip(here.x, -light.half_width, light.half_width)
        away.y -= dr.clip(here.y, -light.half_height, light.half_height)
    square = dr.squared_norm(away)
    found = light.peak * area / (square + area * dr.inv_pi)  # of a disk on its axis: exact
    if light.outline is not None:
        lean = here.z * dr.rsqrt(dr.maximum(square, NEAREST_M**2))
        found *= dr.select(here.z > 0, dr.maximum(lean, LEAST), 0)
        if not isinstance(light.outline, Gridded):
            along = dr.rcp(dr.maximum(here.z, NEAREST_M))
            for factor in light.factors:
                found *= dr.maximum(factor(here.x * along, here.y * along), LEAST)
    towards = mi.Vector3f(light.centre) - mi.Vector3f(it.p)
    far = dr.maximum(dr.norm(towards), NEAREST_M)
    return found * dr.clip((dr.dot(towards, it.n) + light.reach) / far, LEAST, 1)


def chance_of(lights: list[Any], picks: list[Any], light: Any) -> Any:
    """How often the light that a path met is picked, by the chances of all."""
    found = mi.Float(0)
    for each, chance in zip(lights, picks, strict=True):
        found = dr.select(light == each.pointer, chance, found)
    return found


def pick(lights: list[Any], picks: list[Any], u: Any) -> tuple[Any, Any]:
    """One light by a random number and the chances of all, and its own; 0 where none can shine."""
    *first, last = zip(lights, picks, strict=True)
    light, own = last[0].pointer, last[1]
    below, left = mi.Float(0), mi.Bool(True)
    for each, chance in first:
        below = below + chance
        now = left & (u < below)
        light = dr.select(now, each.pointer, light)
        own = dr.select(now, chance, own)
        left &= ~now
    return light, own
