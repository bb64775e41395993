"""What would bring a wish within reach: every cure set up, measured and balanced again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.errors import KitError, SceneError
from render.plan.balance.dials import marking
from render.plan.balance.limits import Limit, limits, tolerances
from render.plan.balance.remedies import candidates
from render.plan.balance.responses import Responses, respond
from render.plan.balance.solve import missed, on_clicks, solve
from render.plan.changes.objections import in_the_way_after
from render.plan.changes.settings import Setting, Step, changed, merged, of_light
from render.scenefile import Setup
from render.trace import Engine

Floats = NDArray[np.float64]

CURE_SAMPLES = 4096  # standard error of about 0.01 stop of the bounce; see tests/bench
SHOWN = 6  # cures that are listed
HELPS_STOPS = 0.1  # a cure that takes less off the misses is none,
HELPS_SHARE = 0.2  # nor one that takes a smaller share of them
MORE_TRIES = 2  # of other amounts
MOST_TIMES = 3.0  # the last change of amount, that is tried next


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
    missed_stops: float  # of the wishes that are not met, added up without sign
    wishes: tuple[CureWish, ...]
    powers: tuple[Power, ...]  # of the lights that turn
    settings: tuple[Setting, ...]  # for the scene file, those powers included
    effort: int  # 1 the least; see `render.plan.changes.settings`


@dataclass(frozen=True, slots=True)
class Cured:
    """A cure and the set-up after it, its powers set."""

    cure: Cure
    setup: Setup


def find_cures(
    found: Responses,
    below: Floats,
    engine: Engine | None,
    progress: Callable[[str], None] | None = None,
) -> tuple[Cured, ...]:
    """Cures of the wishes that powers cannot meet; the best first, then the least trouble.

    Where several wishes are out of reach and none cures all, a second cure is tried on the best.

    below    : (m,) powers of `solve` [stops below full]
    progress : told each cure that is about to be tried
    """
    limited = limits(found, below)
    helped = _helpful(found, below, limited, engine, progress)
    if len(limited) > 1 and helped and not helped[0].cure.meets_all:
        first = helped[0]
        after = respond(first.setup, engine, CURE_SAMPLES)
        powers = solve(after.problem)
        more = _helpful(after, powers, limits(after, powers), engine, progress)
        helped += [_both(first, second) for second in more]
        helped.sort(key=_rank)
    return tuple(helped[:SHOWN])


def _both(first: Cured, second: Cured) -> Cured:
    cure = replace(
        second.cure,
        text=f"{first.cure.text}, and {second.cure.text}",
        settings=merged((*first.cure.settings, *second.cure.settings)),
        effort=first.cure.effort + second.cure.effort,
    )
    return replace(second, cure=cure)


def _helpful(
    found: Responses,
    below: Floats,
    limited: tuple[Limit, ...],
    engine: Engine | None,
    progress: Callable[[str], None] | None,
) -> list[Cured]:
    """Single cures that leave less to miss, in order."""
    miss = np.abs(missed(found.problem, on_clicks(found.problem, below)))
    good = miss <= tolerances(found)
    met, total = int(good.sum()), float(miss[~good].sum())
    enough = min(total - HELPS_STOPS, total * (1 - HELPS_SHARE))
    helped = []
    for step in _once(candidates(found, below, limited)):
        if progress is not None:
            progress(step.name)
        tried = _in_amount(found, step, limited, engine)
        if tried is not None and tried.cure.met >= met and tried.cure.missed_stops < enough:
            helped.append(tried)
    return sorted(helped, key=_rank)


def _once(found: Iterable[Step | None]) -> list[Step]:
    return list({step.name: step for step in found if step is not None}.values())


def _in_amount(
    found: Responses, step: Step, limited: tuple[Limit, ...], engine: Engine | None
) -> Cured | None:
    """The cure; of what can be had in any amount, in the amount that should do (by secants)."""
    best = _tried(found, step, engine)
    if best is None or step.again is None:
        return best
    wish = max(limited, key=lambda limit: abs(limit.off_by_stops))
    last, off = step.begin, wish.off_by_stops
    here, left, amount = step.amount, _miss(best, wish), step.amount
    for _ in range(MORE_TRIES):
        if best.cure.meets_all or abs(off - left) < HELPS_STOPS:
            break
        if amount == here:
            amount = here + max(-MOST_TIMES, min(MOST_TIMES, left / (off - left))) * (here - last)
        other = step.again(amount)
        tried = None if other is None else _tried(found, other, engine)
        if tried is None:
            amount = 0.5 * (here + amount)  # there is no room for so much
            continue
        last, off, here, left = here, left, amount, _miss(tried, wish)
        best = min(best, tried, key=_rank)
    return best


def _miss(cured: Cured, wish: Limit) -> float:
    return next(each.missed_stops for each in cured.cure.wishes if each.name == wish.wish)


def _rank(cured: Cured) -> tuple[int, float, int]:
    """The more wishes are met, the less is missed in all and the less work it is, the lower."""
    return -cured.cure.met, round(cured.cure.missed_stops, 1), cured.cure.effort


def _tried(before: Responses, step: Step, engine: Engine | None) -> Cured | None:
    """The cure, measured and balanced; None where it cannot stand there."""
    try:
        after = respond(changed(before.setup, step.settings), engine, CURE_SAMPLES)
    except (SceneError, KitError):
        return None
    places = (before.setup, before.layout), (after.setup, after.layout)
    if in_the_way_after(*places, step.settings):
        return None
    dialled = on_clicks(after.problem, solve(after.problem))
    miss = missed(after.problem, dialled)
    met = np.abs(miss) <= tolerances(after)
    powers = tuple(
        Power(dial.light, marking(float(value), dial.step))
        for dial, value in zip(after.dials, dialled, strict=True)
        if dial.turns
    )
    dials = [setting for each in powers for setting in of_light(each.light, power=each.shown)]
    settings = merged((*step.settings, *dials))
    names = after.setup.scene.wanted
    cure = Cure(
        text=step.name,
        meets_all=bool(met.all()),
        met=int(met.sum()),
        missed_stops=float(np.sum(np.abs(miss[~met]))),
        wishes=tuple(
            CureWish(name, float(each), bool(good))
            for name, each, good in zip(names, miss, met, strict=True)
        ),
        powers=powers,
        settings=settings,
        effort=step.effort,
    )
    return Cured(cure, changed(before.setup, settings))
