"""What could be done about a wish that is out of reach, from the least trouble to the most."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.plan.balance.limits import Limit, main_light, tolerances
from render.plan.balance.responses import Responses
from render.plan.balance.solve import solve, unbounded
from render.plan.changes import camera, fronts, lights, room
from render.plan.changes.camera import MARGIN_STOPS
from render.plan.changes.settings import Step
from render.report.held import ALL

Floats = NDArray[np.float64]

MOST_LACKING_STOPS = 6.0  # a light that is so far out of its range is not what is wrong
NEARER = 0.75  # of its distance, tried first against spill
FLAG_CM, FLAG_FROM_LIGHT_M = (60, 90), 0.35  # usual ones; common practice, no source
FARTHER_M = 0.4  # from the backdrop, tried first
WORTH_A_DRAPE = 0.25  # of a reading, that has come from one surface last


def candidates(
    found: Responses, below: Floats, limited: tuple[Limit, ...]
) -> Iterator[Step | None]:
    """Changes that may help; what cannot be done to a light is None.

    below   : (m,) powers of `solve` [stops below full]
    limited : the wishes out of reach
    """
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
        elif limit.reason in ("contrary", "unlit"):
            yield from _beside(found, below, i, "white")


def _against_weak(found: Responses, name: str, lack: float) -> Iterator[Step | None]:
    setup = found.setup
    yield camera.other_speed(setup, lack)
    yield camera.other_aperture(setup, lack)
    yield fronts.no_sheet(setup, name)
    yield fronts.ungridded(setup, name)
    yield fronts.cloths(setup, name, -1)
    yield lights.distance(setup, name, 2.0 ** (-0.5 * (lack + MARGIN_STOPS)))
    yield lights.other_head(setup, name, lack)


def _against_strong(found: Responses, name: str, over: float) -> Iterator[Step | None]:
    setup = found.setup
    yield lights.switched_off(setup, name)
    if over > MOST_LACKING_STOPS:
        return
    yield fronts.neutral_sheet(setup, name, over)
    yield camera.other_speed(setup, -over)
    yield camera.other_aperture(setup, -over)
    yield fronts.cloths(setup, name, 1)
    yield lights.distance(setup, name, 2.0 ** (0.5 * (over + MARGIN_STOPS)))
    yield lights.other_head(setup, name, -over)


def _against_spill(found: Responses, below: Floats, i: int, over: float) -> Iterator[Step | None]:
    setup, j = found.setup, main_light(found, below, i)
    name, place = found.dials[j].light, found.layout.points[found.held[i].point]
    on_backdrop = place.on == "backdrop"
    yield lights.aimed_back(setup, name)
    if j == found.layout.key:
        yield lights.feathered(setup, name)
    yield from fronts.grids(setup, name)[:1]
    if found.held[i].lights in (ALL, name):
        yield room.flag(setup, name, place.name, FLAG_CM, FLAG_FROM_LIGHT_M)
    yield lights.distance(setup, name, NEARER)
    if on_backdrop:
        yield room.other_grey(setup, [place.name], over)
        yield room.gap(setup, FARTHER_M)
    yield from _beside(found, below, i, "black")
    light = found.problem.full[i] @ np.exp2(below)
    by_surface = np.exp2(below) @ found.by_surface[i]
    for surface, part in zip(found.surfaces, by_surface, strict=True):
        if part > WORTH_A_DRAPE * light:
            yield room.draped(setup, [surface])


def _beside(
    found: Responses, below: Floats, i: int, kind: Literal["white", "black"]
) -> Iterator[Step | None]:
    """Against a sitter's side too dark or too bright: a panel there, the light moved round."""
    if found.layout.points[found.held[i].point].on == "backdrop":
        return
    key = found.layout.fronts[found.layout.key].centre_m
    yield room.beside(found.setup, kind, -float(key[0]) or 1.0)
    more = lights.ROUND_DEG if kind == "black" else -lights.ROUND_DEG
    name = found.dials[main_light(found, below, i)].light
    yield lights.moved_round(found.setup, name, more)
