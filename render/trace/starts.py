"""Where rays start: beside their surface, as near as its numbers allow, so that no lid is missed.

The stock start lies 0.09 mm beside the surface and as much again for every metre from the middle of
the room. Light then slips over lids, lips and nostrils: up to 0.14 stop too much where it grazes.
"""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

# Distance from a mesh, of one metre and of the largest coordinate. Some eighty float32 steps; a
# third of it changes no pixel of a face beyond noise.
BESIDE = 1e-5
SHADOW_ENDS = 1 - 2e-5  # of the way; some hundred float32 steps


def leaving(it: Any, direction: Any) -> Any:
    """Ray from a place, on the side of its surface to which it goes.

    Light that comes out of a strand has to leave all of it behind: there the stock start serves.
    """
    ray = it.spawn_ray(direction)
    if isinstance(it, mi.SurfaceInteraction3f):
        beside = (1 + dr.max(dr.abs(it.p))) * BESIDE
        place: Any = it.p
        normal = mi.Vector3f(it.n)
        near = place + normal * dr.select(dr.dot(normal, direction) > 0, beside, -beside)
        ray.o = dr.select(it.shape.is_mesh(), near, ray.o)
    return ray


def shadow_ray(it: Any, point: Any) -> Any:
    """Ray to a point on a front that ends just before it.

    The stock one stops 0.9 mm per metre short, which lets light slip under a lip.
    """
    ray = leaving(it, mi.Vector3f(point - it.p))
    way = mi.Vector3f(point - ray.o)
    far = dr.norm(way)
    ray.d = way / far
    ray.maxt = far * SHADOW_ENDS
    return ray
