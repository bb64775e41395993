"""How softly a light draws: the edge of the nose's shadow, and its mirror image on the forehead."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import FLAT, Cap, Front, radiance_share, room_from_local
from render.layout.geometry import fitted_ball, unit
from render.layout.placed import Layout
from render.photometry.penumbra import penumbra_width
from render.predict.obstacles import Obstacles
from render.predict.station import Stations, sphere, stations
from render.predict.touch import first_met
from render.predict.views import views
from render.sitter.body import Body

Floats = NDArray[np.float64]

RINGS, SPOKES = 64, 192  # places on a front; corners of most fronts are among them
SCAN_FROM_M, SCAN_TO_M, SCAN_STEP_M = -0.004, 0.03, 1e-4  # across the tip of the nose
LEAST_GAP_M = 0.004  # a shadow that falls nearer is the nose's own roundness
MOST_GAP_M = 0.15  # one that falls farther misses the face
FAR_M = 100.0  # beyond everything in a room
LEAST_SIDEWAYS = 0.15  # sine of the angle between light and nose; less throws no shadow
FOREHEAD_M = 0.03  # the ball is fitted to so much skin round the landmark; less sees its dents
BRIGHT = 0.1  # of the brightest place; what is darker adds nothing to a mirror image
MIDDLE = (0.1, 0.9)  # shares of the light between which an edge is measured


@dataclass(frozen=True, slots=True)
class Shining:
    """Places of a front that a point sees."""

    at_m: Floats  # (k, 3) room [m]
    light: Floats  # (k,) what each adds to a flat receptor at the point that faces the front
    luminance: Floats  # (k,) relative, towards the point


def shining(layout: Layout, index: int, place_m: Floats) -> Shining:
    """The places of a front that a point (3,) [m] sees past lip, grid, doors, head and panels.

    The sitter hides nothing; the list is empty where no light goes.
    """
    front = layout.fronts[index]
    axis = unit(front.centre_m - place_m)
    spots = stations(front, place_m[None], axis[None], "flat")
    if not spots.seen[0]:
        return Shining(np.zeros((0, 3)), np.zeros(0), np.zeros(0))
    # Rings in the middle of equal steps, and the rim, which shows but counts for nothing.
    rings = np.append((np.arange(RINGS) + 0.5) / RINGS, 1.0)
    u, v = np.meshgrid(rings, np.arange(SPOKES) / SPOKES, indexing="ij")
    found = [view.lay(u.ravel(), v.ravel()) for view in views(spots)]
    local = np.concatenate([at[0] for at, _ in found])
    light = np.concatenate([weight[0] for _, weight in found])
    light = np.where(np.tile(u.ravel() < 1, len(found)), light, 0.0)
    seen = room_from_local(front, local)
    bare = replace(layout, body=None)
    hidden = Obstacles.of(bare).blocked(index, np.broadcast_to(place_m, seen.shape), seen)
    free = ~hidden & np.isfinite(light)
    if not np.any(light[free] > 0):
        free[:] = False
    return Shining(seen[free], light[free], _luminance(spots, local[free]))


def _luminance(spots: Stations, local: Floats) -> Floats:
    """Relative luminance (k,) of places (k, 3), local axes, towards the one station."""
    front = spots.front
    if isinstance(front.shape, FLAT):
        normal = np.broadcast_to([0.0, 0.0, 1.0], local.shape)
    else:
        radius, middle = sphere(front)
        hollow = isinstance(front.shape, Cap) and front.shape.hollow
        normal = (middle - local) / radius if hollow else (local - middle) / radius
    return radiance_share(front, local, normal, unit(spots.at[0] - local))


@dataclass(frozen=True, slots=True)
class NoseShadow:
    """The edge of the nose past which the middle of a front shines, and where its shadow falls.

    The edge is that of the nose's tip, on the side to which its shadow is thrown.
    """

    edge_m: Floats  # (3,) on the nose
    falls_m: Floats  # (3,) on the face
    across: Floats  # (3,) unit, at right angles to the edge and to the light
    gap_m: float  # from one to the other, along the light


def nose_shadow(body: Body, front: Front) -> NoseShadow | None:
    """The shadow of the nose in the light of a front; None where none falls on the face."""
    tip = body.landmarks.get("nose_tip")
    if tip is None:
        return None
    place, source = tip.position_m.astype(float), front.centre_m
    to_light = unit(source - place)
    aside = tip.normal - (tip.normal @ to_light) * to_light
    if np.linalg.norm(aside) < LEAST_SIDEWAYS:
        return None
    steps = np.arange(SCAN_FROM_M, SCAN_TO_M, SCAN_STEP_M)
    ways = unit(place + steps[:, None] * unit(aside) - source)
    met = first_met(body, np.broadcast_to(source, ways.shape), ways)
    distance = np.minimum(met.distance_m, FAR_M)
    jumps = np.diff(distance)
    found = np.flatnonzero((distance[:-1] < FAR_M) & (jumps > LEAST_GAP_M))
    if not len(found) or jumps[found[0]] > MOST_GAP_M:
        return None
    last = found[0]
    normal = unit(met.normal[max(0, last - 5) : last + 1].sum(0))
    across = unit(normal - (normal @ ways[last]) * ways[last])
    edge = source + distance[last] * ways[last]
    gap = float(jumps[last])
    return NoseShadow(edge, edge + gap * ways[last], across, gap)


@dataclass(frozen=True, slots=True)
class EdgeWidth:
    """Width of a shadow's soft edge [m], measured across the light."""

    whole_m: float  # from the first light to the last: similar triangles over the whole front
    middle_m: float  # from a tenth of the light to nine tenths


def edge_width(seen: Shining, edge_m: Floats, across: Floats, gap_m: float) -> EdgeWidth | None:
    """Soft edge of the shadow that a straight edge throws over a gap [m]; None without light.

    seen   : what of the front is seen from the edge (3,) [m]
    across : (3,) unit, at right angles to the edge and to the light
    Source: similar triangles (`photometry.penumbra`) for the whole; the light that has come round
    the edge is that of the front's places in the order in which they appear.
    """
    if not len(seen.light) or seen.light.sum() <= 0:
        return None
    way = seen.at_m - edge_m
    middle = unit(np.average(way, axis=0, weights=np.maximum(seen.light, 0)))
    level = unit(across - (across @ middle) * middle)
    apart = way @ level / (way @ middle)
    lit = seen.luminance > 0
    extent = float(np.ptp(apart[lit]))
    low, high = _between(apart, seen.light)
    return EdgeWidth(
        penumbra_width(extent, 1.0, gap_m), penumbra_width(float(high - low), 1.0, gap_m)
    )


def _between(values: Floats, weights: Floats) -> Floats:
    """Values below which the MIDDLE shares of the weight lie."""
    order = np.argsort(values)
    ranked = weights[order]
    share = (np.cumsum(ranked) - 0.5 * ranked) / ranked.sum()
    return np.interp(MIDDLE, share, values[order])


def curvature_radius_m(body: Body, landmark: str) -> float | None:
    """Radius [m] of the ball that fits the skin round a landmark; None where there is none."""
    mark = body.landmarks.get(landmark)
    if mark is None:
        return None
    skin = body.surfaces[0].vertices.astype(float) - mark.position_m
    near = skin[np.linalg.norm(skin, axis=1) < FOREHEAD_M]
    if len(near) < 4:
        return None
    middle, radius = fitted_ball(near)
    return radius if middle @ mark.normal < 0 and radius > 0 else None


def mirror_image_m(
    seen: Shining, place_m: Floats, radius_m: float, eye_m: Floats, right: Floats, up: Floats
) -> tuple[float, float] | None:
    """Width and height [m] of a front's mirror image in a ball, as a lens at `eye_m` sees it.

    place_m   : (3,) float  on the ball, from where the front is seen
    right, up : (3,) unit   along which width and height are measured
    returns   : None without light
    Law of reflection: the ball mirrors a place where its normal halves the angle between it and
    the lens, with both so far away that the place on the ball does not matter.
    """
    bright = seen.luminance >= BRIGHT * np.max(seen.luminance, initial=0.0)
    bright &= seen.luminance > 0
    if not bright.any():
        return None
    halves = radius_m * unit(unit(seen.at_m[bright] - place_m) + unit(eye_m - place_m))
    return float(np.ptp(halves @ right)), float(np.ptp(halves @ up))
