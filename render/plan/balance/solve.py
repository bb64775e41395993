"""Powers that come nearest to the wanted readings, first freely, then on the dials' clicks."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, lsq_linear

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DARK_STOPS = -12.0  # from a wanted reading; less light counts as this much too little
STAY = 1e-3  # weight of a stop turned on a dial against one missed: idle dials stay where they are
TRIED_TOGETHER = 4  # lights whose clicks are tried in every combination; more: one by one
CLICKS_AROUND = 2  # clicks tried on either side
BEYOND_STOPS = 12.0  # that a dial is let to go past its ends, to see what a head lacks
# Of a stop. Far below what any meter shows.
TIE = 1e-9
REACHED_STOPS = 0.02  # before the clicks; an f-number gives way so little to wishes beside it
UNREACHED_WEIGHT = 0.3  # of a wish that is missed anyway, on the clicks
FINE = 1e-12  # when the search stops; it takes milliseconds


@dataclass(frozen=True, slots=True)
class Problem:
    """Wanted readings (n) and lights (m)."""

    full: Floats  # (n, m) light of each at full power, 0 where it is not fired [lx·s]
    target: Floats  # (n,) wanted [lx·s]
    low: Floats  # (n,) how far below it costs nothing [stops], 0 or negative
    high: Floats  # (n,) and above
    weight: Floats  # (n,)
    now: Floats  # (m,) powers [stops below full]
    least: Floats  # (m,)
    most: Floats  # (m,) 0 is full power
    step: Floats  # (m,) 0 for stepless
    turns: Bools  # (m,) False where a power stays


def off_by(problem: Problem, below: Floats) -> Floats:
    """Readings against what is wanted (n,) [stops], + is too bright."""
    light = problem.full @ np.exp2(below)
    off: Floats = np.log2(np.maximum(light / problem.target, 2.0**DARK_STOPS))
    return off


def missed(problem: Problem, below: Floats) -> Floats:
    """How far each reading lies outside its range (n,) [stops]."""
    off = off_by(problem, below)
    return np.where(off > problem.high, off - problem.high, np.minimum(off - problem.low, 0.0))


def cost(problem: Problem, below: Floats) -> float:
    """Sum of squared weighted misses [stops²]."""
    return float(np.sum((problem.weight * missed(problem, below)) ** 2))


def solve(problem: Problem) -> Floats:
    """Powers (m,) [stops below full] between the dials' ends, without their clicks."""
    free = problem.turns & (problem.most > problem.least)
    if not free.any():
        return problem.now.copy()
    low, high = problem.least[free], problem.most[free]
    begun = np.clip(problem.now[free], low, high)

    def all_of(part: Floats) -> Floats:
        below = problem.now.copy()
        below[free] = part
        return below

    def residuals(part: Floats) -> Floats:
        return np.concatenate(
            [problem.weight * missed(problem, all_of(part)), STAY * (part - begun)]
        )

    starts = [begun, np.clip(_linear(problem, free), low, high)]
    tried = [
        least_squares(residuals, start, bounds=(low, high), xtol=FINE, ftol=FINE, gtol=FINE)
        for start in starts
    ]
    best = min(tried, key=lambda each: float(each.cost))
    return all_of(np.asarray(best.x, float))


def _linear(problem: Problem, free: Bools) -> Floats:
    """A start: powers by linear least squares of light over wanted light."""
    share = problem.full * (problem.weight / problem.target)[:, None]
    rest = share[:, ~free] @ np.exp2(problem.now[~free])
    least, most = np.exp2(problem.least[free]), np.exp2(problem.most[free])
    found = lsq_linear(share[:, free], problem.weight - rest, bounds=(least, most))
    start: Floats = np.log2(np.maximum(found.x, least))
    return start


def unbounded(problem: Problem) -> Problem:
    """The same with dials that go far past their ends."""
    return replace(problem, least=problem.least - BEYOND_STOPS, most=problem.most + BEYOND_STOPS)


def as_solved(problem: Problem, below: Floats) -> Problem:
    """What the clicks are to come nearest to: the readings of `solve`.

    Those that are met weigh the same; inside its range a reading stays free. One that is out of
    reach weighs little, and only as it gets farther.
    """
    off = off_by(problem, below)
    return replace(
        problem,
        target=problem.target * np.exp2(off),
        low=np.minimum(problem.low - off, 0.0),
        high=np.maximum(problem.high - off, 0.0),
        weight=np.where(np.abs(missed(problem, below)) < REACHED_STOPS, 1.0, UNREACHED_WEIGHT),
    )


def on_clicks(problem: Problem, below: Floats) -> Floats:
    """The best powers on the dials' clicks near those of `solve` (m,) [stops below full]."""
    problem = as_solved(problem, below)
    clicked = [int(i) for i in np.flatnonzero(problem.turns & (problem.step > 0))]
    found = below.copy()
    for i in clicked:
        found[i] = _clicks(problem, below, i, 0)[0]
    if len(clicked) <= TRIED_TOGETHER:
        choices = [_clicks(problem, below, i, CLICKS_AROUND) for i in clicked]
        return _best(problem, below, found, clicked, choices)
    before = math.inf
    while (now := cost(problem, found)) < before - TIE:
        before = now
        for i in clicked:
            found = _best(problem, below, found, [i], [_clicks(problem, found, i, CLICKS_AROUND)])
    return found


def _clicks(problem: Problem, below: Floats, i: int, around: int) -> list[float]:
    """Clicks of one dial around a power, nearest first."""
    step, least = float(problem.step[i]), float(problem.least[i])
    middle = round(float(below[i]) / step)
    near = {
        min(float(problem.most[i]), max(least, (middle + k) * step))
        for k in range(-around, around + 1)
    }
    return sorted(near, key=lambda each: abs(each - float(below[i])))


def _best(
    problem: Problem, free: Floats, found: Floats, chosen: list[int], choices: list[list[float]]
) -> Floats:
    """The cheapest combination; of equals the one nearest to the free solution."""
    best, least = found, math.inf
    for combination in itertools.product(*choices):
        tried = found.copy()
        tried[chosen] = combination
        price = cost(problem, tried) + STAY**2 * float(np.sum((tried - free) ** 2))
        if price < least:
            best, least = tried, price
    return best
