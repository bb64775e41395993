"""Where lights may stand so that powers can meet the wishes: the nearest such place to the present.

For every place that is tried, the best powers are found as they always are (`solve`), so the search
itself knows distances and angles alone. Bounce is that of the last trace, per lumen second.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from render.errors import KitError, OutputError, SceneError
from render.plan.balance.responses import Responses, respond
from render.plan.balance.solve import REACHED_STOPS, STAY, Problem, cost, missed, solve
from render.plan.balance.unknowns import OPTION, Unknown
from render.plan.changes.objections import Fault, objections
from render.plan.changes.settings import Setting, changed

Floats = NDArray[np.float64]
Values = tuple[float, ...]  # of the unknowns, in their order

ANGLE_DEG = 15.0  # counts as much as a stop of distance; common practice, no source
MOVE = 3.0 * STAY  # to move a light is more trouble than to turn a dial
STEP = 0.05  # of a slope: 2 cm at 1.2 m, under a degree; well over what shadow rays leave unsure
REFUSED = 1e3  # stops off, where a light cannot stand
MOST_STEPS = 12
FINE = 1e-4
AS_GOOD = 1e-3  # a cost that is higher by this is no worse: 0.003 stop of an f-number
WORTH_MOVING = 0.1  # of what is missed; a light is not moved to take less off it
COARSE = {1: 7, 2: 4, 3: 3}  # places tried along each unknown where the present one leads nowhere
COARSE_STARTS = 2
NEARBY = 0.5  # half a stop of distance, half of ANGLE_DEG


@dataclass(frozen=True, slots=True)
class Refusal:
    """A place that was tried and where a light cannot stand."""

    values: Values
    fault: str  # short
    words: str


@dataclass(frozen=True, slots=True)
class Search:
    """What is searched, from where, and what was tried."""

    start: Responses
    moves: tuple[Unknown, ...]
    bounce: Floats  # (n, m) at full power [lx·s]
    camera: tuple[Setting, ...] = ()  # as it is set while lights are moved
    present: Mapping[str, Fault] = field(default_factory=dict)  # what is wrong as it is
    begin: Values | None = None  # answer with another bounce
    tried: dict[Values, Problem | None] = field(default_factory=dict)
    refused: list[Refusal] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Place:
    """Values of the unknowns with the best powers there."""

    values: Values
    problem: Problem
    below: Floats  # (m,) [stops under full]

    @property
    def missed(self) -> float:
        """Weighted, squared and added up [stops²]."""
        return cost(self.problem, self.below)

    @property
    def reached(self) -> bool:
        """Whether every wish is met, before anything is rounded."""
        return bool(np.all(np.abs(missed(self.problem, self.below)) < REACHED_STOPS))


def nearest_place(search: Search) -> Place:
    """The place nearest to the present one whose powers meet the wishes, or come nearest to it.

    Raises OutputError where no light can stand anywhere in the ranges.
    """
    again = None if search.begin is None else place_at(search, search.begin)
    if again is not None:
        return _kept_back(search, _refined(search, again))
    present = tuple(min(max(each.now, each.low), each.high) for each in search.moves)
    here = place_at(search, present)
    if here is not None and (here.reached or not search.moves):
        return here
    found = [] if here is None else [_refined(search, here)]
    if not found or not found[0].reached:
        found += [_refined(search, each) for each in _coarse(search)]
    if not found:
        why = "; ".join({each.fault: each.words for each in search.refused}.values())
        keys = ", ".join(each.key for each in search.moves)
        raise OutputError(f"{OPTION} {keys}: {why} (accepted: a range with a place for it)")
    best = min(found, key=lambda each: each.missed + _moved(search, each.values))
    return _kept_back(search, best)


def settings_of(search: Search, values: Values) -> tuple[Setting, ...]:
    """What the scene file would say."""
    moved = zip(search.moves, values, strict=True)
    return (*search.camera, *(Setting(each.key, value) for each, value in moved))


def place_at(search: Search, values: Values) -> Place | None:
    """The best powers with the lights there; None where one cannot stand."""
    key = tuple(round(value, 6) for value in values)
    if key not in search.tried:
        search.tried[key] = _measured(search, values)
    problem = search.tried[key]
    return None if problem is None else Place(values, problem, solve(problem))


def _measured(search: Search, values: Values) -> Problem | None:
    start, lights = search.start, {each.light for each in search.moves}
    try:
        setup = changed(start.setup, settings_of(search, values))
        found = respond(setup, None, known=start, idle=True)
    except (SceneError, KitError) as problem:
        words = f"{problem.key}: {problem.found}"
        search.refused.append(Refusal(values, problem.key, words))
        return None
    faults = objections(setup, found.layout, lights, search.present)
    search.refused.extend(Refusal(values, name, fault.words) for name, fault in faults.items())
    return None if faults else replace(found.problem, full=found.direct + search.bounce)


def _scaled(search: Search, values: Values) -> Floats:
    """Moves from the present place: stops of distance, and ANGLE_DEG."""
    return np.array(
        [
            2 * np.log2(value / each.now)
            if each.part == "distance_m"
            else (value - each.now) / ANGLE_DEG
            for each, value in zip(search.moves, values, strict=True)
        ]
    )


def _values(search: Search, scaled: Floats) -> Values:
    return tuple(
        min(max(_value(each, float(part)), each.low), each.high)
        for each, part in zip(search.moves, scaled, strict=True)
    )


def _value(unknown: Unknown, part: float) -> float:
    if unknown.part == "distance_m":
        return float(unknown.now * 2.0 ** (0.5 * part))
    return unknown.now + ANGLE_DEG * part


def in_the_way(search: Search, values: Values) -> tuple[str, ...]:
    """What keeps lights from going farther from the place that was found."""
    here = _scaled(search, values)
    nearest: dict[str, str] = {}
    for each in sorted(search.refused, key=lambda each: _apart(search, each, here)):
        if _apart(search, each, here) < NEARBY:
            nearest.setdefault(each.fault, each.words)
    return tuple(nearest.values())


def _apart(search: Search, refusal: Refusal, here: Floats) -> float:
    return float(np.max(np.abs(_scaled(search, refusal.values) - here), initial=0.0))


def _moved(search: Search, values: Values) -> float:
    return float(np.sum((MOVE * _scaled(search, values)) ** 2))


def _refined(search: Search, begin: Place) -> Place:
    """Least squares of misses and moves from a place on."""
    low = _scaled(search, tuple(each.low for each in search.moves))
    high = _scaled(search, tuple(each.high for each in search.moves))
    size = len(begin.problem.target) + len(begin.problem.now) + len(low)

    def residuals(scaled: Floats) -> Floats:
        found = place_at(search, _values(search, scaled))
        if found is None:
            return np.full(size, REFUSED)
        problem = found.problem
        off = problem.weight * missed(problem, found.below)
        return np.concatenate([off, STAY * (found.below - problem.now), MOVE * scaled])

    def slopes(scaled: Floats) -> Floats:
        here = residuals(scaled)
        columns = []
        for k in range(len(scaled)):
            column = np.zeros(size)
            ways = sorted((STEP, -STEP), key=lambda step: not low[k] <= scaled[k] + step <= high[k])
            for step in ways:
                there = residuals(scaled + step * np.eye(len(scaled))[k])
                if there[0] != REFUSED:
                    column = (there - here) / step
                    break
            columns.append(column)
        return np.stack(columns, 1)

    scaled = np.clip(_scaled(search, begin.values), low, high)
    bounds = (low, np.maximum(high, low + FINE))
    done = least_squares(
        residuals, scaled, slopes, bounds, xtol=FINE, ftol=FINE, max_nfev=MOST_STEPS
    )
    end = place_at(search, _values(search, done.x))
    return begin if end is None else min(begin, end, key=lambda each: each.missed)


def _coarse(search: Search) -> list[Place]:
    """The best few places of a coarse mesh over the ranges."""
    count = COARSE.get(len(search.moves), 2)
    ends = [np.linspace(each.low, each.high, count) for each in search.moves]
    tried = (place_at(search, tuple(map(float, each))) for each in itertools.product(*ends))
    stand = [each for each in tried if each is not None]
    return sorted(stand, key=lambda each: each.missed)[:COARSE_STARTS]


def _kept_back(search: Search, best: Place) -> Place:
    """The same without moves that are not needed; those that were named first are kept."""
    slack = max(AS_GOOD, 0.0 if best.reached else WORTH_MOVING * best.missed)
    enough = best.missed + slack
    for k, unknown in reversed(list(enumerate(search.moves))):
        if best.values[k] == unknown.now or not unknown.low <= unknown.now <= unknown.high:
            continue
        values = (*best.values[:k], unknown.now, *best.values[k + 1 :])
        found = place_at(search, values)
        if found is None:
            continue
        if found.missed > enough and len(values) > 1:
            held = replace(unknown, low=unknown.now, high=unknown.now)
            moves = (*search.moves[:k], held, *search.moves[k + 1 :])
            found = _refined(replace(search, moves=moves), found)
        if found.missed <= enough:
            best = found
    return best
