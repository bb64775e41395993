"""Why readings of one light disagree: distance, aim, hot spot or bounce, each measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from render.layout import Layout
from render.plan.calibrate.moved import bounced, direct_of, glanced, kinds, least, worked_out
from render.plan.calibrate.offsets import Cause, Fit, Taken, fit
from render.plan.calibrate.places import Ahead
from render.report.held import Held

FEWEST_POINTS = 2  # that a light is read at; one cannot tell a cause from its output
UNEXPLAINED_CHANCE = 0.001  # by chi-square; noise that explains readings more often needs no word
# A cause has to lower the Bayesian information criterion by so much: odds of 20 to 1, "strong".
# Source: Kass and Raftery, Bayes factors, J. Am. Stat. Assoc. 90 (1995), 773-795: 2 ln B above 6.
MOST_CHANCE = 0.01  # that noise alone makes one of all causes look as good as the one taken
STRONG_BIC, ALIKE_BIC = 6.0, 2.0  # a rival nearer than the second cannot be told apart
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


def find_causes(
    layout: Layout, held: list[Held], taken: Taken, ahead: Sequence[Ahead] = ()
) -> tuple[Fit, list[Found]]:
    """The corrections with the causes that the readings call for, at most one a light.

    A light is looked at where it was read alone at two points or more; its best cause is taken
    where the Bayesian information criterion falls by STRONG_BIC or more and noise does as much
    with MOST_CHANCE at most.

    ahead : points of the layout that go with a light
    """
    best = plain = fit(taken)
    chosen: dict[int, Cause] = {}
    found: list[Found] = []
    tried: dict[int, list[Cause]] = {}
    while True:
        trials = []
        for j in range(len(layout.fronts)):
            if j in chosen or points_read(layout, held, j) < FEWEST_POINTS:
                continue
            if j not in tried:
                tried[j] = _helping(layout, held, taken, plain, j, ahead)
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


def points_read(layout: Layout, held: list[Held], lamp: int) -> int:
    """At how many points a light was read alone."""
    return len({held[i].point for i in alone(layout, held, lamp)})


def _helping(
    layout: Layout,
    held: list[Held],
    taken: Taken,
    plain: Fit,
    lamp: int,
    ahead: Sequence[Ahead],
) -> list[Cause]:
    """Everything about a light that may be otherwise than planned, as far as it helps at all."""
    odd = plain.chance(alone(layout, held, lamp), taken.sigma) < ODD_CHANCE
    made = []
    for kind in kinds(layout.fronts[lamp]):
        if not odd:
            first = direct_of(layout, held, lamp, kind.change(least(kind)), ahead)
            glance = glanced(kind, taken, lamp, first * taken.dial[:, lamp])
            if plain.cost - fit(taken, {lamp: glance}).cost < math.log(len(held)):
                continue
        made.append(worked_out(kind, layout, held, taken, lamp, ahead))
    if np.any(taken.bounce[:, lamp] > 0):
        made.append(bounced(taken, lamp))
    return made
