"""Distances, angles, ISO speed and f-number beside the powers, with the bounce of where they end.

The room's bounce is traced in the present set-up; lights are moved with that bounce, and it is
traced again where they end, until it no longer moves a reading.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from render.plan.balance.exposures import camera_settings
from render.plan.balance.responses import Responses, respond
from render.plan.balance.rounding import rounded_place
from render.plan.balance.search import (
    Place,
    Search,
    Values,
    in_the_way,
    nearest_place,
    place_at,
    settings_of,
)
from render.plan.balance.unknowns import Unknown
from render.plan.changes.objections import objections
from render.plan.changes.settings import Setting, changed
from render.trace import Engine

MOST_ROUNDS = 3
SETTLED_STOPS = 0.05  # half of what a meter shows


@dataclass(frozen=True, slots=True)
class Arranged:
    """The set-up that was found, measured as it would be set."""

    found: Responses
    ideal: Place  # before anything is rounded
    moves: tuple[Unknown, ...]
    cameras: tuple[Unknown, ...]
    values: Values  # of the moves, rounded
    settings: tuple[Setting, ...]  # all that the scene file would say otherwise
    rounds: int
    residual_stops: float  # by which the last trace moved a reading; 0 where nothing moves
    refused: tuple[str, ...]  # what keeps lights from going farther


def arrange(
    start: Responses,
    free: tuple[Unknown, ...],
    engine: Engine | None,
    samples: int,
    progress: Callable[[str], None],
) -> Arranged:
    """The nearest set-up in the ranges that meets the wishes, or comes nearest to that.

    start    : the present set-up, measured
    engine   : traces the bounce; None leaves it out
    progress : told each round
    Raises OutputError where a light can stand nowhere in its range, and EngineError.
    """
    moves = tuple(each for each in free if each.light)
    cameras = tuple(each for each in free if not each.light)
    traced, residual, rounds = start, 0.0, 0
    begin: Values | None = None
    while rounds < MOST_ROUNDS:
        rounds += 1
        progress("other places and settings")
        search, best = _found(start, moves, cameras, traced, begin)
        end = rounded_place(search, best)
        settings = settings_of(search, end.values)
        setup = changed(start.setup, settings)
        if all(value == each.now for value, each in zip(end.values, moves, strict=True)):
            found = _bounced(respond(setup, None, known=start, idle=True), start)
            residual = 0.0
            break
        progress("measuring there")
        found = respond(setup, engine, samples, known=start, idle=True)
        traced, residual, begin = found, _residual(end, found), best.values
        if residual < SETTLED_STOPS:
            break
    ideal = place_at(replace(search, bounce=found.bounce, tried={}), best.values)
    refused = in_the_way(search, best.values)
    return Arranged(
        found, ideal or end, moves, cameras, end.values, settings, rounds, residual, refused
    )


def _found(
    start: Responses,
    moves: tuple[Unknown, ...],
    cameras: tuple[Unknown, ...],
    traced: Responses,
    begin: Values | None,
) -> tuple[Search, Place]:
    """Camera first, since that is less trouble, then lights; the camera again where it helps."""
    problem = replace(start.problem, full=start.direct + traced.bounce)
    present = objections(start.setup, start.layout, {each.light for each in moves})
    search = Search(
        start=start,
        moves=moves,
        bounce=traced.bounce,
        camera=camera_settings(start, problem, cameras),
        present=present,
        begin=begin,
    )
    best = nearest_place(search)
    for _ in range(MOST_ROUNDS if moves and cameras else 0):
        camera = camera_settings(start, best.problem, cameras)
        if camera == search.camera:
            break
        search = replace(search, camera=camera, tried={})
        best = nearest_place(search)
    return search, best


def _bounced(found: Responses, traced: Responses) -> Responses:
    """The same with the bounce of a set-up whose lights stand in the same places."""
    return replace(
        found,
        bounce=traced.bounce,
        surfaces=traced.surfaces,
        by_surface=traced.by_surface,
        problem=replace(found.problem, full=found.direct + traced.bounce),
    )


def _residual(end: Place, found: Responses) -> float:
    """The most by which a reading differs from what was reckoned with the last bounce [stops]."""
    power = np.exp2(end.below)
    reckoned, measured = end.problem.full @ power, found.problem.full @ power
    lit = (reckoned > 0) & (measured > 0)
    return float(np.max(np.abs(np.log2(measured[lit] / reckoned[lit])), initial=0.0))
