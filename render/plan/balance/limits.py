"""Why a wanted reading is out of reach: a head's end, a fixed light, spill or another wish."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.photometry.stops import f_number_stops, show_f_number, stops
from render.plan.balance.responses import Responses
from render.plan.balance.solve import missed, off_by
from render.report.held import ALL

Floats = NDArray[np.float64]
Reason = Literal["unlit", "weak", "strong", "fixed", "spill", "contrary"]

TENTH_HALVED_STOPS = 0.05  # a flash meter shows tenths of a stop
AT_END_STOPS = 1e-3  # nearer than this to an end of the dial is at it
AT_EDGE_STOPS = 0.02  # the same of a wish's range; wishes give way a little to each other


@dataclass(frozen=True, slots=True)
class Limit:
    """One wish that cannot be met; its fields are the keys of the JSON output."""

    wish: str
    off_by_stops: float  # before rounding, outside its range; + is too bright
    reason: Reason
    light: str | None  # that it hangs on
    held_by: str | None  # wish that keeps this light's power where it is
    direct_stops: float | None  # of this light there, from the first wish with an f-number
    bounce_stops: float | None
    sentence: str


def tolerances(found: Responses) -> Floats:
    """Half a click of the coarsest head that fires, at least half a tenth (n,) [stops]."""
    problem = found.problem
    turning = np.where(problem.turns, problem.step, 0.0)
    coarsest = np.where(problem.full > 0, turning, 0.0).max(axis=1)
    allowed: Floats = np.maximum(0.5 * coarsest, TENTH_HALVED_STOPS)
    return allowed


def limits(found: Responses, below: Floats) -> tuple[Limit, ...]:
    """The wishes that powers cannot meet, and what each hangs on.

    below : (m,) powers of `solve` [stops below full]
    """
    miss, allowed = missed(found.problem, below), tolerances(found)
    return tuple(
        _limit(found, below, i, float(miss[i]))
        for i in range(len(miss))
        if abs(miss[i]) > allowed[i]
    )


def main_light(found: Responses, below: Floats, i: int) -> int:
    """The light that gives most of a reading."""
    return int(np.argmax(found.problem.full[i] * np.exp2(below)))


def _limit(found: Responses, below: Floats, i: int, miss: float) -> Limit:
    names = list(found.setup.scene.wanted)
    j = main_light(found, below, i)
    dial, problem = found.dials[j], found.problem
    power = 2.0 ** below[j]
    if problem.full[i, j] <= 0:
        words = f"{_said(found, below, i)}: no light reaches it."
        return Limit(names[i], miss, "unlit", None, None, None, None, words)
    direct, bounce = (_from_first(found, i, part[i, j] * power) for part in _parts(found))
    at_least = below[j] <= problem.least[j] + AT_END_STOPS
    at_most = below[j] >= problem.most[j] - AT_END_STOPS
    reason: Reason
    other = None
    if not dial.turns:
        reason, why = "fixed", f"Most of its light is from {dial.light}, which {dial.why}"
    elif miss < 0 and at_most:
        reason, why = "weak", f"The {dial.light} light is at full power"
    elif miss > 0 and at_least:
        reason, why = "strong", f"The {dial.light} light is at its least power"
    else:
        other = _held_by(found, below, i, j)
        reason = "spill" if miss > 0 else "contrary"
        keeps = f"as {names[other]} needs it" if other is not None else "as it is"
        why = f"The {dial.light} light, {keeps}, gives {_split(direct, bounce)}"
    words = f"{_said(found, below, i)}: {abs(miss):.1f} {_stop(miss)} too {_way(miss)}. {why}."
    held_by = names[other] if other is not None else None
    return Limit(names[i], miss, reason, dial.light, held_by, direct, bounce, words)


def _parts(found: Responses) -> tuple[Floats, Floats]:
    return found.direct, found.bounce


def _held_by(found: Responses, below: Floats, i: int, j: int) -> int | None:
    """The other wish at the opposite edge of its range that the light's power matters to most."""
    problem = found.problem
    light = problem.full * np.exp2(below)
    total = light.sum(axis=1)
    share = np.divide(light[:, j], total, out=np.zeros(len(total)), where=total > 0)
    off = off_by(problem, below)
    bright = off[i] > problem.high[i]
    at_low, at_high = off <= problem.low + AT_EDGE_STOPS, off >= problem.high - AT_EDGE_STOPS
    matters = problem.weight * share * (at_low if bright else at_high)
    matters[i] = 0.0
    best = int(np.argmax(matters))
    return best if matters[best] > 0 else None


def from_first_stops(found: Responses, i: int, off: float) -> float:
    """A reading's stops from the first wish with an f-number; off : from what is wanted of it."""
    first = next(
        number
        for number, wish in zip(found.wanted, found.setup.scene.wanted.values(), strict=True)
        if wish.f_number is not None
    )
    return float(f_number_stops(found.wanted[i]) - f_number_stops(first)) + off


def _from_first(found: Responses, i: int, light: float) -> float | None:
    if light <= 0:
        return None
    return from_first_stops(found, i, float(stops(light / found.problem.target[i])))


def _said(found: Responses, below: Floats, i: int) -> str:
    name = list(found.setup.scene.wanted)[i]
    off = float(off_by(found.problem, below)[i])
    number = found.wanted[i]
    wanted = f"{show_f_number(number)} ({from_first_stops(found, i, 0.0):+.1f})"
    comes = f"{show_f_number(number * 2 ** (off / 2))} ({from_first_stops(found, i, off):+.1f})"
    fired = found.held[i].lights
    alone = "" if fired == ALL else f" of {fired} alone"
    return f"{name}: {wanted}{alone} is wanted, {comes} comes nearest"


def _split(direct: float | None, bounce: float | None) -> str:
    parts = [
        f"{value:+.1f} {how}"
        for value, how in ((direct, "directly"), (bounce, "by way of the room"))
        if value is not None
    ]
    return " and ".join(parts)


def _stop(miss: float) -> str:
    return "stop" if round(abs(miss), 1) <= 1 else "stops"


def _way(miss: float) -> str:
    return "bright" if miss > 0 else "dark"
