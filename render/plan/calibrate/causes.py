"""Why readings of one light disagree: distance, aim, hot spot or bounce, each measured."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.spatial.transform import Rotation
from scipy.stats import chi2

from render.emission import Front
from render.layout import Layout
from render.plan.calibrate.offsets import Cause, Fit, Taken, fit
from render.predict import Obstacles, direct_exposure
from render.report.held import ALL, Held, hold, lifted

Floats = NDArray[np.float64]

FEWEST_POINTS = 3  # that a light is read at; fewer cannot tell a cause from its output
UNEXPLAINED_CHANCE = 0.001  # by chi-square; noise that explains readings more often needs no word
# A cause has to lower the Bayesian information criterion by so much: odds of 20 to 1, "strong".
# Source: Kass and Raftery, Bayes factors, J. Am. Stat. Assoc. 90 (1995), 773-795: 2 ln B above 6.
MOST_CHANCE = 0.01  # that noise alone makes one of all causes look as good as the one taken
STRONG_BIC, ALIKE_BIC = 6.0, 2.0  # a rival nearer than the second cannot be told apart
# How far things on a set are usually off; common practice, no source.
DISTANCE_PRIOR_M, AIM_PRIOR_DEG, FALLOFF_PRIOR_STOPS, BOUNCE_PRIOR_STOPS = 0.1, 8.0, 0.5, 0.5
DISTANCE_STEPS_M = (-0.2, -0.1, -0.05, 0.0, 0.05, 0.1, 0.2)
AIM_STEPS_DEG = (-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 20.0)
FALLOFF_STEPS_STOPS = (-1.0, -0.5, 0.0, 0.5, 1.0)
KINDS = 5  # of causes; each has its chance to fit noise
# Where noise explains readings more often, a cause is worked out if a small step of it helps.
ODD_CHANCE = 0.05


@dataclass(frozen=True, slots=True)
class Found:
    """A cause that explains a disagreement, and those that would do as well."""

    cause: Cause
    bic_gain: float
    noise_chance: float  # that noise alone makes any cause look so good
    rivals: tuple[str, ...]


def find_causes(layout: Layout, held: list[Held], taken: Taken) -> tuple[Fit, list[Found]]:
    """The corrections with the causes that the readings call for, at most one a light.

    A light is looked at where it was read alone at three points or more; its best cause is taken
    where the Bayesian information criterion falls by STRONG_BIC or more and noise does as much
    with MOST_CHANCE at most.
    """
    best = plain = fit(taken)
    chosen: dict[int, Cause] = {}
    found: list[Found] = []
    tried: dict[int, list[Cause]] = {}
    while True:
        trials = []
        for j in range(len(layout.fronts)):
            if j in chosen or not _at_several_points(layout, held, j):
                continue
            if j not in tried:
                tried[j] = _causes(layout, held, taken, plain, j)
            for cause in tried[j]:
                other = fit(taken, {**chosen, j: cause})
                gain = best.cost - other.cost - math.log(len(held))
                trials.append((gain, cause, other))
        trials.sort(key=lambda trial: -trial[0])
        if not trials or trials[0][0] < STRONG_BIC:
            return best, found
        gain, cause, better = trials[0]
        # By chance one of so many would lower chi-square so far; the likelihood ratio of Wilks.
        one = float(chi2.sf(best.cost - better.cost, 1))
        chance = 1 - (1 - one) ** (KINDS * len(tried))
        if chance > MOST_CHANCE:
            return best, found
        near = [
            t[1].name for t in trials[1:] if t[1].lamp == cause.lamp and gain - t[0] < ALIKE_BIC
        ]
        chosen[cause.lamp], best = cause, better
        found.append(Found(cause, gain, chance, tuple(near)))


def alone(layout: Layout, held: list[Held], lamp: int) -> NDArray[np.int64]:
    """Rows of the readings of one light by itself."""
    return np.array([i for i, h in enumerate(held) if h.lights == layout.fronts[lamp].name], int)


def _at_several_points(layout: Layout, held: list[Held], lamp: int) -> bool:
    return len({held[i].point for i in alone(layout, held, lamp)}) >= FEWEST_POINTS


def _causes(layout: Layout, held: list[Held], taken: Taken, plain: Fit, lamp: int) -> list[Cause]:
    """Everything about a light that may be otherwise than planned, as far as it helps at all."""
    front = layout.fronts[lamp]
    falls = [x for x in FALLOFF_STEPS_STOPS if x >= -front.edge_falloff_stops]
    moved: list[tuple[str, float, tuple[float, ...], Callable[[float], Front]]] = [
        ("distance", DISTANCE_PRIOR_M, DISTANCE_STEPS_M, lambda x: _nearer(front, x)),
        ("aim sideways", AIM_PRIOR_DEG, AIM_STEPS_DEG, lambda x: _turned(front, front.up, x)),
        ("aim up or down", AIM_PRIOR_DEG, AIM_STEPS_DEG, lambda x: _turned(front, front.right, x)),
        ("hot spot", FALLOFF_PRIOR_STOPS, tuple(falls), lambda x: _hotter(front, x)),
    ]
    now, room = taken.direct[:, lamp], taken.bounce[:, lamp]
    odd = plain.chance(alone(layout, held, lamp), taken.sigma) < ODD_CHANCE
    made = []
    for name, prior, steps, change in moved:
        least = steps[steps.index(0.0) + 1]
        first = _direct(layout, held, taken, lamp, change(least))
        glance = Cause(lamp, name, prior, _sloping(least, now, first, room))
        gain = plain.cost - fit(taken, {lamp: glance}).cost
        if not odd and gain < math.log(len(held)):
            continue
        known = {0.0: now, least: first}
        table = np.array(
            [
                known[x] if x in known else _direct(layout, held, taken, lamp, change(x))
                for x in steps
            ]
        )
        made.append(Cause(lamp, name, prior, _between(steps, table, room)))
    if np.any(room > 0):
        made.append(Cause(lamp, "bounce", BOUNCE_PRIOR_STOPS, lambda x: (now, room * 2.0**x)))
    return made


def _sloping(
    step: float, now: Floats, there: Floats, bounce: Floats
) -> Callable[[float], tuple[Floats, Floats]]:
    """Direct light at any amount, from that after one small step: a straight line in stops."""
    lit = (now > 0) & (there > 0)
    slope = np.log2(np.divide(there, now, out=np.ones_like(now), where=lit)) / step
    return lambda x: (now * np.exp2(x * slope), bounce)


def _between(
    steps: tuple[float, ...], table: Floats, bounce: Floats
) -> Callable[[float], tuple[Floats, Floats]]:
    """Direct light at any amount, from that (steps, n) at some; the room's share stays."""
    curve = PchipInterpolator(steps, table, axis=0)
    return lambda x: (curve(min(max(x, steps[0]), steps[-1])), bounce)


def _direct(layout: Layout, held: list[Held], taken: Taken, lamp: int, front: Front) -> Floats:
    """Direct light (n,) [lx·s] of one light changed, the dial as it was for each reading."""
    fronts = tuple(front if j == lamp else each for j, each in enumerate(layout.fronts))
    there = replace(layout, fronts=fronts)
    all_of = Obstacles.of(there)
    only = Obstacles(
        all_of.shared, (all_of.lights[lamp],), (all_of.bulky[lamp],), (all_of.thin[lamp],)
    )
    light = np.zeros(len(held))
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
        light[rows] = exposure.luminous_exposure_lx_s[[at[_way(held[i])] for i in rows], 0]
    return light * taken.dial[:, lamp]


def _way(held: Held) -> tuple[object, ...]:
    return held.point, held.lights, held.receptor, held.aim


def _again(there: Layout, held: Held) -> Held:
    """The receptor held the same way where a light has moved."""
    return hold(there, held.point, held.lights, held.receptor, held.aim)


def _nearer(front: Front, metres: float) -> Front:
    return replace(front, centre_m=front.centre_m + metres * front.normal)


def _turned(front: Front, axis: Floats, degrees: float) -> Front:
    turn = Rotation.from_rotvec(np.radians(degrees) * axis)
    return replace(front, right=turn.apply(front.right), up=turn.apply(front.up))


def _hotter(front: Front, stops: float) -> Front:
    return replace(front, edge_falloff_stops=front.edge_falloff_stops + stops)
