"""The one further reading that would best tell the two likeliest causes apart."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.plan.calibrate.beside import HARDLY, NOISE_STOPS, Page
from render.plan.calibrate.causes import STRONG_BIC, alone
from render.plan.calibrate.moved import BOUNCE, bounced, direct_and_bare, kinds, worked_out
from render.plan.calibrate.offsets import Cause, Taken, fit
from render.plan.calibrate.places import Ahead, with_ahead
from render.report.held import Held, hold, measure
from render.studio.scene import Receptor
from render.trace import Engine

Floats = NDArray[np.float64]

OUTPUT = "output"
HELD_STOPS = 0.02  # an output that is taken as known
AHEAD_M = (0.5, 0.7, 1.0)  # straight ahead, where only the light's own output counts
FAINTEST, BRIGHTEST = 1.0, 90.0  # f-numbers that meters show; common practice, no source
LEAST_APART_STOPS = 2 * NOISE_STOPS  # less is not told apart by one reading
RECEPTORS: tuple[Receptor, ...] = ("flat", "dome")
SAMPLES = 256  # per receptor for the bounce at places to choose from: 0.02 stop is enough


@dataclass(frozen=True, slots=True)
class Reason:
    """One explanation of a light's readings: its output, or a cause."""

    name: str
    offset: float  # of its output [stops]
    amount: float  # of the cause, in its own unit; 0 for output
    score: float  # chi-square with priors, plus ln(readings) for every free number


@dataclass(frozen=True, slots=True)
class Further:
    """Where one more reading of a light alone tells two explanations apart."""

    lamp: int
    reasons: tuple[Reason, Reason]  # the likelier one first
    at: Held | None  # None where no place of the set tells them apart
    place: str
    apart_stops: float
    f_numbers: tuple[float, float] | None  # that either would show there


def further(
    page: Page, taken: Taken, chosen: Mapping[int, Cause], engine: Engine | None
) -> list[Further]:
    """One for each light whose readings are off, but not clearly for one reason.

    chosen : causes that are taken already, by light
    """
    open_: dict[int, list[Reason]] = {}
    for lamp in range(len(page.layout.fronts)):
        if not len(alone(page.layout, page.held, lamp)):
            continue
        reasons, nothing = _reasons(page, taken, chosen, lamp)
        near = [each for each in reasons[:2] if each.score - reasons[0].score < STRONG_BIC]
        if len(near) == 2 and nothing - near[0].score >= STRONG_BIC:
            open_[lamp] = near
    return _places(page, open_, engine) if open_ else []


def _reasons(
    page: Page, taken: Taken, chosen: Mapping[int, Cause], lamp: int
) -> tuple[list[Reason], float]:
    """Explanations of a light's readings, the best first, and the score of none at all.

    A cause is tried by itself; for a light that one is found for, with an output that is off too.
    """
    group, each = int(taken.group[lamp]), math.log(len(page.held))
    others = {j: cause for j, cause in chosen.items() if j != lamp}
    prior = taken.prior.copy()
    prior[group] = HELD_STOPS
    known = replace(taken, prior=prior)
    now, free = (taken, 2) if lamp in chosen else (known, 1)
    output = fit(taken, others)
    found = [Reason(OUTPUT, float(output.offsets[group]), 0.0, output.cost + each)]
    for cause in _every(page, taken, lamp):
        best = fit(now, {**others, lamp: cause})
        found.append(
            Reason(
                cause.name,
                float(best.offsets[group]),
                best.amounts[lamp],
                best.cost + free * each,
            )
        )
    return sorted(found, key=lambda reason: reason.score), fit(known, others).cost


def _every(page: Page, taken: Taken, lamp: int) -> list[Cause]:
    made = [
        worked_out(kind, page.layout, page.held, taken, lamp, page.ahead)
        for kind in kinds(page.layout.fronts[lamp])
    ]
    return [*made, bounced(taken, lamp)] if np.any(taken.bounce[:, lamp] > 0) else made


def _places(page: Page, open_: Mapping[int, list[Reason]], engine: Engine | None) -> list[Further]:
    """The best place for each light, all places measured at once."""
    wanted = [(lamp, metres) for lamp in open_ for metres in AHEAD_M]
    layout, ahead = with_ahead(page.setup, page.layout, wanted)
    every = (*page.ahead, *ahead)
    own = {each.point: each.lamp for each in every}
    read = {(each.point, each.lights, each.receptor) for each in page.held}
    held = [
        hold(layout, point, layout.fronts[lamp].name, receptor, "light")
        for lamp, point, receptor in product(open_, range(len(layout.points)), RECEPTORS)
        if own.get(point, lamp) == lamp and (point, layout.fronts[lamp].name, receptor) not in read
    ]
    measured = measure(layout, held, engine, SAMPLES)
    found = []
    for lamp, near in open_.items():
        rows = [i for i, each in enumerate(held) if each.lights == layout.fronts[lamp].name]
        mine = [held[i] for i in rows]
        direct, bounce = measured.direct[rows, lamp], measured.bounce[rows, lamp]
        clear = (direct > 0) & (direct >= (1 - HARDLY) * measured.clear[rows, lamp])
        told = [_light(layout, mine, lamp, why, direct, bounce, every) for why in near]
        for _, free in told:
            clear &= free
        found.append(_best(page, layout, mine, lamp, near, clear, [each for each, _ in told]))
    return found


def _light(
    layout: Layout,
    held: Sequence[Held],
    lamp: int,
    why: Reason,
    direct: Floats,
    bounce: Floats,
    ahead: Sequence[Ahead],
) -> tuple[Floats, NDArray[np.bool_]]:
    """Light (n,) [lx·s] at places to choose from, were this the reason, and where none is hidden.

    A place ahead of a light that is moved goes with it, into the sitter even.
    """
    free = np.ones(len(held), dtype=np.bool_)
    kind = {each.name: each for each in kinds(layout.fronts[lamp])}.get(why.name)
    if kind is not None:
        limited = min(max(why.amount, kind.steps[0]), kind.steps[-1])
        direct, bare = direct_and_bare(layout, held, lamp, kind.change(limited), ahead)
        free = direct >= (1 - HARDLY) * bare
    room = bounce * 2.0**why.amount if why.name == BOUNCE else bounce
    total: Floats = (direct + room) * 2.0**why.offset
    return total, free


def _best(
    page: Page,
    layout: Layout,
    held: Sequence[Held],
    lamp: int,
    near: Sequence[Reason],
    clear: NDArray[np.bool_],
    light: Sequence[Floats],
) -> Further:
    """The place where two explanations differ most, of those that a meter can read well."""
    pair = (near[0], near[1])
    best, apart, shown = -1, 0.0, (0.0, 0.0)
    for i, each in enumerate(held):
        if not clear[i] or min(light[0][i], light[1][i]) <= 0:
            continue
        numbers = (page.would(each.receptor, light[0][i]), page.would(each.receptor, light[1][i]))
        between = 2 * abs(math.log2(numbers[0] / numbers[1]))
        if min(numbers) >= FAINTEST and max(numbers) <= BRIGHTEST and between > apart:
            best, apart, shown = i, between, numbers
    if best < 0 or apart < LEAST_APART_STOPS:
        return Further(lamp, pair, None, "", apart, None)
    place = layout.points[held[best].point].name
    return Further(lamp, pair, held[best], place, apart, shown)
