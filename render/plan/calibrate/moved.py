"""What may be otherwise about a light than planned, and the light of it then."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.spatial.transform import Rotation

from render.emission import Front
from render.layout import Layout
from render.plan.calibrate.offsets import Cause, Taken
from render.plan.calibrate.places import Ahead, carried
from render.predict import Obstacles, direct_exposure
from render.report.held import ALL, Held, hold, lifted

Floats = NDArray[np.float64]
Change = Callable[[float], Front]

BOUNCE = "bounce"  # the cause that changes no front
# How far things on a set are usually off; common practice, no source.
DISTANCE_PRIOR_M, AIM_PRIOR_DEG, FALLOFF_PRIOR_STOPS, BOUNCE_PRIOR_STOPS = 0.1, 8.0, 0.5, 0.5
DISTANCE_STEPS_M = (-0.3, -0.2, -0.1, -0.05, 0.0, 0.05, 0.1, 0.2, 0.3)
AIM_STEPS_DEG = (-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 20.0)
FALLOFF_STEPS_STOPS = (-1.0, -0.5, 0.0, 0.5, 1.0)


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing that may be otherwise about a front, in amounts that are worked out."""

    name: str
    prior: float  # amount that is likely, in its own unit
    steps: tuple[float, ...]
    change: Change

    def cause(self, lamp: int, light: Callable[[float], tuple[Floats, Floats]]) -> Cause:
        return Cause(lamp, self.name, self.prior, light)


def kinds(front: Front) -> tuple[Kind, ...]:
    """Everything that may be otherwise about a front; bounce is none of it."""
    falls = tuple(x for x in FALLOFF_STEPS_STOPS if x >= -front.edge_falloff_stops)

    def nearer(metres: float) -> Front:
        return replace(front, centre_m=front.centre_m + metres * front.normal)

    def hotter(stops: float) -> Front:
        return replace(front, edge_falloff_stops=front.edge_falloff_stops + stops)

    return (
        Kind("distance", DISTANCE_PRIOR_M, DISTANCE_STEPS_M, nearer),
        Kind("aim sideways", AIM_PRIOR_DEG, AIM_STEPS_DEG, lambda x: _turned(front, front.up, x)),
        Kind(
            "aim up or down", AIM_PRIOR_DEG, AIM_STEPS_DEG, lambda x: _turned(front, front.right, x)
        ),
        Kind("hot spot", FALLOFF_PRIOR_STOPS, falls, hotter),
    )


def _turned(front: Front, axis: Floats, degrees: float) -> Front:
    turn = Rotation.from_rotvec(np.radians(degrees) * axis)
    return replace(front, right=turn.apply(front.right), up=turn.apply(front.up))


def bounced(taken: Taken, lamp: int) -> Cause:
    """The room giving back more of a light than predicted, or less."""
    now, room = taken.direct[:, lamp], taken.bounce[:, lamp]
    return Cause(lamp, BOUNCE, BOUNCE_PRIOR_STOPS, lambda x: (now, room * 2.0**x))


def glanced(kind: Kind, taken: Taken, lamp: int, first: Floats) -> Cause:
    """A cause from the light (n,) of its first step alone: a straight line in stops."""
    now, room = taken.direct[:, lamp], taken.bounce[:, lamp]
    lit = (now > 0) & (first > 0)
    slope = np.log2(np.divide(first, now, out=np.ones_like(now), where=lit)) / least(kind)
    return kind.cause(lamp, lambda x: (now * np.exp2(x * slope), room))


def worked_out(
    kind: Kind,
    layout: Layout,
    held: Sequence[Held],
    taken: Taken,
    lamp: int,
    ahead: Sequence[Ahead],
) -> Cause:
    """A cause from the light of all its steps; the room's share stays."""
    now, room = taken.direct[:, lamp], taken.bounce[:, lamp]
    table = np.array(
        [
            direct_of(layout, held, lamp, kind.change(x), ahead) * taken.dial[:, lamp] if x else now
            for x in kind.steps
        ]
    )
    curve = PchipInterpolator(kind.steps, table, axis=0)
    low, high = kind.steps[0], kind.steps[-1]
    return kind.cause(lamp, lambda x: (curve(min(max(x, low), high)), room))


def least(kind: Kind) -> float:
    """The smallest step of a kind."""
    return kind.steps[kind.steps.index(0.0) + 1]


def direct_of(
    layout: Layout, held: Sequence[Held], lamp: int, front: Front, ahead: Sequence[Ahead] = ()
) -> Floats:
    """Direct light (n,) [lx·s] of one light changed, its dial as in the scene."""
    return direct_and_bare(layout, held, lamp, front, ahead)[0]


def direct_and_bare(
    layout: Layout, held: Sequence[Held], lamp: int, front: Front, ahead: Sequence[Ahead] = ()
) -> tuple[Floats, Floats]:
    """The same, and what it would be with nothing in the way (n,) [lx·s]."""
    fronts = tuple(front if j == lamp else each for j, each in enumerate(layout.fronts))
    there = carried(replace(layout, fronts=fronts), ahead, lamp)
    all_of = Obstacles.of(there)
    only = Obstacles(
        all_of.shared, (all_of.lights[lamp],), (all_of.bulky[lamp],), (all_of.thin[lamp],)
    )
    light, bare = np.zeros(len(held)), np.zeros(len(held))
    for receptor in ("flat", "dome"):
        rows = [
            i
            for i, each in enumerate(held)
            if each.receptor == receptor and each.lights in (ALL, front.name)
        ]
        if not rows:
            continue
        # A place that was read again is worked out once.
        again = {_way(held[i]): _again(there, held[i]) for i in rows}
        places = np.array([lifted(there, each) for each in again.values()])
        axes = np.array([each.axis for each in again.values()])
        alone_there = replace(layout, fronts=(front,))
        exposure = direct_exposure(alone_there, places, axes, receptor, obstacles=only)
        at = {way: k for k, way in enumerate(again)}
        here = [at[_way(held[i])] for i in rows]
        light[rows] = exposure.luminous_exposure_lx_s[here, 0]
        bare[rows] = exposure.unobstructed_lx_s[here, 0]
    return light, bare


def _way(held: Held) -> tuple[object, ...]:
    return held.point, held.lights, held.receptor, held.aim


def _again(there: Layout, held: Held) -> Held:
    """The receptor held the same way where a light has moved."""
    return hold(there, held.point, held.lights, held.receptor, held.aim)
