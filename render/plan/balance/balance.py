"""Powers for the wanted readings, on request other settings too, and what to do where none will."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.plan.balance.arrange import Arranged, arrange
from render.plan.balance.cures import Cure, find_cures
from render.plan.balance.limits import Limit, limits
from render.plan.balance.outcome import (
    PowerRow,
    SettingRow,
    Stage,
    WishOutcome,
    power_row,
    rounding_cost,
    setting_row,
    standard_errors,
    wish_rows,
)
from render.plan.balance.responses import Responses, respond
from render.plan.balance.solve import on_clicks, solve
from render.plan.balance.unknowns import unknowns
from render.plan.changes.settings import Setting
from render.report.readings import BOUNCE_SAMPLES, meter_speed
from render.scenefile import Setup
from render.trace import Engine

Floats = NDArray[np.float64]

SAMPLES = 4096  # tried first: most sets are sure enough with a quarter of the meter's samples
SURE_STOPS = 0.01  # standard error of a reading: a tenth of a click


@dataclass(frozen=True, slots=True)
class Balance:
    """Powers and wishes of a scene."""

    scene: str
    iso_speed: float
    met: bool
    powers: tuple[PowerRow, ...]
    settings: tuple[SettingRow, ...]  # what was free besides, as asked
    changes: tuple[Setting, ...]  # keys of the scene file that change with them
    unknowns: int  # dials that turn and settings that are free
    wishes: tuple[WishOutcome, ...]
    rounding_cost_stops: float  # that the worst-hit wish loses by rounding
    rounding_wish: str | None  # that one
    rounds: int  # of moving lights and tracing the bounce again; 0 where nothing was free
    residual_stops: float  # by which the last trace moved a reading
    refused: tuple[str, ...]  # what keeps lights from going farther
    limits: tuple[Limit, ...]
    cures: tuple[Cure, ...]  # best first


def balance(
    setup: Setup,
    *,
    free: Sequence[str] = (),
    bounce: bool = True,
    engine: str | Engine = "auto",
    samples: int | None = None,
    cures: bool = True,
    progress: Callable[[str], None] | None = None,
) -> Balance:
    """Find the powers, and what else is free, that come nearest to `[wanted]`.

    free     : keys that may change besides the powers, with their range where one is wanted, such
               as "light.key.distance_m", "light.key.azimuth_deg=-60..-20", "camera.iso_speed"
    bounce   : with what the room gives back, traced backwards from each receptor
    engine   : "auto", "cuda", "llvm" or "scalar", or one that runs already
    samples  : paths per receptor for the bounce; None for as many as make readings sure to
               SURE_STOPS, at most those of the meter table
    cures    : try some where a wish is out of reach, about a second each
    progress : told what is about to be tried
    returns  : Balance
    Raises SceneError, KitError, MeshError, OutputError for `free` and, with bounce, EngineError.
    """
    say = progress or (lambda _: None)
    asked = unknowns(setup, free)
    with _running(engine) if bounce else nullcontext() as running:
        start, count = _present(setup, running, samples, bool(asked))
        arranged = arrange(start, asked, running, count, say) if asked else None
        found = arranged.found if arranged else start
        below = solve(found.problem)
        cured = find_cures(found, below, running, say) if cures else ()
    return _told(start, arranged, below, tuple(each.cure for each in cured))


def _present(
    setup: Setup, engine: Engine | None, samples: int | None, idle: bool
) -> tuple[Responses, int]:
    """The present set-up measured, and with how many samples that is sure enough."""
    start = respond(setup, engine, samples or SAMPLES, idle=idle)
    stage = Stage(start, start.problem, start.problem.now)
    if engine is None or samples or not np.any(standard_errors(stage) > SURE_STOPS):
        return start, samples or SAMPLES
    again = respond(setup, engine, BOUNCE_SAMPLES, known=start, idle=idle)
    return again, BOUNCE_SAMPLES


def _told(
    start: Responses, arranged: Arranged | None, below: Floats, cures: tuple[Cure, ...]
) -> Balance:
    """The answer; below : powers where the lights end, before the dials' clicks."""
    found = arranged.found if arranged else start
    end = Stage(found, found.problem, on_clicks(found.problem, below))
    solved = Stage(found, found.problem, below)
    if arranged:
        solved = Stage(found, arranged.ideal.problem, arranged.ideal.below)
    wishes = wish_rows(Stage(start, start.problem, start.problem.now), solved, end)
    cost, wish = rounding_cost(solved, end)
    turned = zip(start.dials, solved.below, end.below, found.layout.calibrations, strict=True)
    free = len(arranged.moves) + len(arranged.cameras) if arranged else 0
    return Balance(
        scene=start.setup.scene.title,
        iso_speed=meter_speed(found.setup),
        met=all(each.met for each in wishes),
        powers=tuple(power_row(dial, float(a), float(b), words) for dial, a, b, words in turned),
        settings=_settings(arranged),
        changes=_changes(start, arranged),
        unknowns=free + sum(dial.turns for dial in start.dials),
        wishes=wishes,
        rounding_cost_stops=cost,
        rounding_wish=wish,
        rounds=arranged.rounds if arranged else 0,
        residual_stops=arranged.residual_stops if arranged else 0.0,
        refused=arranged.refused if arranged else (),
        limits=_still_missed(limits(found, below), wishes),
        cures=cures,
    )


def _still_missed(found: tuple[Limit, ...], wishes: tuple[WishOutcome, ...]) -> tuple[Limit, ...]:
    """Limits of wishes that the clicks do not happen to meet after all."""
    met = {each.name for each in wishes if each.met}
    return tuple(limit for limit in found if limit.wish not in met)


def _running(engine: str | Engine) -> AbstractContextManager[Engine]:
    """An engine for as long as it is needed; one that runs already goes on."""
    return Engine(engine) if isinstance(engine, str) else nullcontext(engine)


def _settings(arranged: Arranged | None) -> tuple[SettingRow, ...]:
    """What was free, lights first."""
    if arranged is None:
        return ()
    moves = zip(arranged.moves, arranged.ideal.values, arranged.values, strict=True)
    set_to = {each.key: float(each.value) for each in arranged.settings}
    return (
        *(setting_row(*each) for each in moves),
        *(setting_row(each, set_to[each.key], set_to[each.key]) for each in arranged.cameras),
    )


def _changes(start: Responses, arranged: Arranged | None) -> tuple[Setting, ...]:
    """Settings that the scene file does not have already."""
    scene = start.setup.scene.model_dump()
    found = []
    for each in arranged.settings if arranged else ():
        value = scene
        for name in each.key.split("."):
            value = value[name]
        if value != each.value:
            found.append(each)
    return tuple(found)
