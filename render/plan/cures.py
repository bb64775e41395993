"""What would bring a wish within reach: every cure set up, measured and balanced again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.errors import KitError, SceneError
from render.plan import changes
from render.plan.changes import Change
from render.plan.dials import marking
from render.plan.limits import Limit, limits, main_light, tolerances
from render.plan.responses import Responses, respond
from render.plan.solve import missed, on_clicks, solve, unbounded
from render.report.held import ALL
from render.trace import Engine

Floats = NDArray[np.float64]

CURE_SAMPLES = 4096  # standard error of about 0.01 stop of the bounce; see tests/bench
SHOWN = 6  # cures that are listed
HELPS_STOPS = 0.1  # a cure that the worst wish gains less from is none,
HELPS_SHARE = 0.2  # nor one that leaves more than the rest of its miss
MOST_LACKING_STOPS = 6.0  # a light that is so far out of its range is not what is wrong
NEARER = 0.75  # of its distance, tried first against spill
FARTHER_M = 0.4  # from the backdrop, tried first
MORE_TRIES = 2  # of other amounts
MOST_TIMES = 3.0  # the last change of amount, that is tried next
WORTH_A_DRAPE = 0.25  # of a reading, that has come from one surface last


@dataclass(frozen=True, slots=True)
class Power:
    """One light's dial."""

    light: str
    shown: str


@dataclass(frozen=True, slots=True)
class CureWish:
    """One wish after a cure."""

    name: str
    missed_stops: float  # outside its range, on the dials' clicks
    met: bool


@dataclass(frozen=True, slots=True)
class Cure:
    """One cure and what comes of it; its fields are the keys of the JSON output."""

    text: str
    meets_all: bool
    met: int  # wishes
    worst_missed_stops: float  # the greatest miss, without sign
    wishes: tuple[CureWish, ...]
    powers: tuple[Power, ...]  # of the lights that turn


@dataclass(frozen=True, slots=True)
class Cured:
    """A cure and the set-up after it, its powers set."""

    cure: Cure
    change: Change


def find_cures(found: Responses, below: Floats, engine: Engine | None) -> tuple[Cured, ...]:
    """Cures of the wishes that powers cannot meet; the best first, then the least trouble.

    below : (m,) powers of `solve` [stops below full]
    """
    limited = limits(found, below)
    if not limited:
        return ()
    tried = [
        _in_amount(change, limited, engine) for change in _once(candidates(found, below, limited))
    ]
    miss = np.abs(missed(found.problem, on_clicks(found.problem, below)))
    met, worst = int(np.sum(miss <= tolerances(found))), float(miss.max())
    helped = [
        each
        for each in tried
        if each is not None
        and each.cure.met >= met
        and each.cure.worst_missed_stops < min(worst - HELPS_STOPS, worst * (1 - HELPS_SHARE))
    ]
    helped.sort(key=_rank)
    return tuple(helped[:SHOWN])


def _once(found: Iterator[Change | None]) -> list[Change]:
    return list({change.text: change for change in found if change is not None}.values())


def _in_amount(change: Change, limited: tuple[Limit, ...], engine: Engine | None) -> Cured | None:
    """The cure; of what can be had in any amount, in the amount that should do (by secants)."""
    best = _tried(change, engine)
    if best is None or change.again is None:
        return best
    wish = max(limited, key=lambda limit: abs(limit.off_by_stops))
    last, off = change.begin, wish.off_by_stops
    here, left, amount = change.amount, _miss(best, wish), change.amount
    for _ in range(MORE_TRIES):
        if best.cure.meets_all or abs(off - left) < HELPS_STOPS:
            break
        if amount == here:
            amount = here + max(-MOST_TIMES, min(MOST_TIMES, left / (off - left))) * (here - last)
        changed = change.again(amount)
        found = None if changed is None else _tried(changed, engine)
        if found is None:
            amount = 0.5 * (here + amount)  # there is no room for so much
            continue
        last, off, here, left = here, left, amount, _miss(found, wish)
        best = min(best, found, key=_rank)
    return best


def _miss(cured: Cured, wish: Limit) -> float:
    return next(each.missed_stops for each in cured.cure.wishes if each.name == wish.wish)


def _rank(cured: Cured) -> tuple[int, float]:
    """The more wishes are met and the less the worst is missed, the lower."""
    return -cured.cure.met, round(cured.cure.worst_missed_stops, 1)


def _tried(change: Change, engine: Engine | None) -> Cured | None:
    """The cure, measured and balanced; None where it cannot stand there."""
    try:
        after = respond(change.setup, engine, CURE_SAMPLES)
    except (SceneError, KitError):
        return None
    dialled = on_clicks(after.problem, solve(after.problem))
    miss = missed(after.problem, dialled)
    met = np.abs(miss) <= tolerances(after)
    setup = change.setup
    for dial, value in zip(after.dials, dialled, strict=True):
        if dial.turns:
            setup = changes.with_light(setup, dial.light, power=float(2.0**value))
    cure = Cure(
        text=change.text,
        meets_all=bool(met.all()),
        met=int(met.sum()),
        worst_missed_stops=float(np.max(np.abs(miss))),
        wishes=tuple(
            CureWish(name, float(each), bool(good))
            for name, each, good in zip(setup.scene.wanted, miss, met, strict=True)
        ),
        powers=tuple(
            Power(dial.light, marking(float(value), dial.step))
            for dial, value in zip(after.dials, dialled, strict=True)
            if dial.turns
        ),
    )
    return Cured(cure, Change(change.text, setup))


def candidates(
    found: Responses, below: Floats, limited: tuple[Limit, ...]
) -> Iterator[Change | None]:
    """What could be done, from the least trouble to the most."""
    problem = found.problem
    wanted = solve(unbounded(problem))
    lacks = np.where(problem.turns, wanted - problem.most, 0.0)
    over = np.where(problem.turns, problem.least - wanted, 0.0)
    allowed = tolerances(found).min()
    for j, dial in enumerate(found.dials):
        if allowed < lacks[j] <= MOST_LACKING_STOPS:
            yield from _against_weak(found, dial.light, float(lacks[j]))
        if over[j] > allowed:
            yield from _against_strong(found, dial.light, float(over[j]))
    names = list(found.setup.scene.wanted)
    for limit in limited:
        i = names.index(limit.wish)
        if limit.reason == "spill":
            yield from _against_spill(found, below, i, limit.off_by_stops)
        elif limit.reason in ("contrary", "unlit") and found.layout.body is not None:
            yield _towards_shadow(found)


def _against_weak(found: Responses, name: str, lack: float) -> Iterator[Change | None]:
    setup = found.setup
    yield changes.other_speed(setup, lack)
    yield changes.other_aperture(setup, lack)
    light = setup.scene.light[name]
    if light.nd:
        text = f"no neutral sheet before the {name} light"
        yield Change(text, changes.with_light(setup, name, nd=0.0))
    yield changes.ungridded(setup, name)
    yield changes.cloths(setup, name, -1)
    yield changes.distance(setup, name, 2.0 ** (-0.5 * (lack + changes.MARGIN_STOPS)))
    yield changes.other_head(setup, name, lack)


def _against_strong(found: Responses, name: str, over: float) -> Iterator[Change | None]:
    setup = found.setup
    yield changes.switched_off(setup, name)
    if over > MOST_LACKING_STOPS:
        return
    yield changes.neutral_sheet(setup, name, over)
    yield changes.other_speed(setup, -over)
    yield changes.other_aperture(setup, -over)
    yield changes.cloths(setup, name, 1)
    yield changes.distance(setup, name, 2.0 ** (0.5 * (over + changes.MARGIN_STOPS)))
    yield changes.other_head(setup, name, -over)


def _against_spill(found: Responses, below: Floats, i: int, over: float) -> Iterator[Change | None]:
    setup, j = found.setup, main_light(found, below, i)
    name, place = found.dials[j].light, found.layout.points[found.held[i].point]
    on_backdrop = place.on == "backdrop"
    yield changes.aimed_back(setup, name)
    if j == found.layout.key:
        yield changes.feathered(setup, name)
    yield changes.gridded(setup, name)
    if found.held[i].lights in (ALL, name):
        yield changes.flag(setup, name, place.name)
    yield changes.distance(setup, name, NEARER)
    if on_backdrop:
        yield changes.darker_backdrop(setup, place.name, over)
        yield changes.gap(setup, FARTHER_M)
    light = found.problem.full[i] @ np.exp2(below)
    by_surface = np.exp2(below) @ found.by_surface[i]
    for surface, part in zip(found.surfaces, by_surface, strict=True):
        if part > WORTH_A_DRAPE * light:
            yield changes.draped(setup, surface)


def _towards_shadow(found: Responses) -> Change | None:
    key = found.layout.fronts[found.layout.key].centre_m
    return changes.reflector(found.setup, -float(key[0]) or 1.0)
