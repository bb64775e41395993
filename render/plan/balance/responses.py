"""How every light answers at every wanted point: its light there at full power, once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout import Layout, place
from render.layout.placed import Sheet
from render.photometry.exposure import luminous_exposure_for
from render.plan.balance.dials import Dial, dials
from render.plan.balance.solve import Problem
from render.predict import Obstacles, Still
from render.report.held import ALL, Held, measure
from render.report.readings import (
    BOUNCE_SAMPLES,
    meter_speed,
    wanted_f_numbers,
    wished_readings,
)
from render.scenefile import Setup
from render.sitter.body import Body
from render.trace import Engine

Floats = NDArray[np.float64]

# An f-number is what the camera is set to; stops around it are a matter of taste.
F_NUMBER_WEIGHT, STOPS_WEIGHT = 10.0, 1.0


@dataclass(frozen=True, slots=True)
class Responses:
    """Light (n wishes, m lights) at full power [lx·s], and what is wanted."""

    setup: Setup
    layout: Layout  # its points without patches
    still: Still | None  # sitter, panels and papers, ready for rays
    dials: tuple[Dial, ...]
    held: tuple[Held, ...]
    wanted: tuple[float, ...]  # (n,) f-numbers
    direct: Floats  # (n, m), 0 where a light is not fired
    bounce: Floats  # (n, m)
    error: Floats  # (n, m) standard error of both
    surfaces: tuple[str, ...]  # what bounce comes from last
    by_surface: Floats  # (n, m, surfaces)
    problem: Problem


def respond(
    setup: Setup,
    engine: Engine | None,
    samples: int = BOUNCE_SAMPLES,
    *,
    known: Responses | None = None,
    idle: bool = False,
) -> Responses:
    """Place the set-up and measure every light at every wanted point.

    engine  : traces the bounce; None leaves it out
    known   : of much the same set-up; sitter and panels that are where they were are taken from it
    idle    : whether all dials may stay as they are
    Raises SceneError, KitError, MeshError, EngineError.
    """
    _check_wanted(setup)
    turned = dials(setup, idle)
    layout = place(setup, _seated(setup, known), spots=False)
    held = wished_readings(setup, layout)
    wanted = wanted_f_numbers(setup)
    same = known is not None and as_before(layout, known.layout)
    obstacles = Obstacles.of(layout, known.still) if known is not None and same else None
    measured = measure(layout, held, engine, samples, obstacles)
    fired = np.zeros((len(held), len(layout.fronts)))
    for i, each in enumerate(held):
        fired[i, list(each.chosen(layout))] = 1.0
    per_power = fired / np.exp2([dial.now for dial in turned])
    direct, bounce = measured.direct * per_power, measured.bounce * per_power
    return Responses(
        setup,
        layout,
        measured.obstacles.still if measured.obstacles else None,
        turned,
        tuple(held),
        tuple(wanted),
        direct,
        bounce,
        measured.error * per_power,
        measured.surfaces,
        measured.by_surface * per_power[:, :, None],
        _problem(setup, turned, held, wanted, direct + bounce),
    )


def _check_wanted(setup: Setup) -> None:
    """There are wishes, and none is for a light that is off."""
    if not setup.scene.wanted:
        raise SceneError(setup.file, "wanted", "no wishes", "[wanted] with at least one reading")
    for name, wish in setup.scene.wanted.items():
        light = setup.scene.light.get(wish.light)
        if wish.light != ALL and light is not None and not light.on:
            raise SceneError(
                setup.file, f"wanted.{name}.light", f"{wish.light} is off", "a light that is on"
            )


def _seated(setup: Setup, known: Responses | None) -> Body | None:
    return None if known is None else seated_as(setup, known.setup, known.layout)


def seated_as(now: Setup, before: Setup, layout: Layout) -> Body | None:
    """The sitter of a set-up that stood before, if they sit and look as they do now.

    layout : as it stood before
    """
    same = before.file == now.file and before.scene.sitter == now.scene.sitter
    return layout.body if same and _lens_m(before) == _lens_m(now) else None


def _lens_m(setup: Setup) -> tuple[float, float | None] | None:
    """Where the camera is [m], which the sitter may look at."""
    camera = setup.scene.camera
    return None if camera is None else (camera.distance_m, camera.height_m)


def as_before(layout: Layout, known: Layout) -> bool:
    """Whether sitter, panels and papers are those of another layout, in the same places."""
    pairs = zip(layout.sheets, known.sheets, strict=False)
    return (
        layout.body is known.body
        and len(layout.sheets) == len(known.sheets)
        and all(_same_place(one, other) for one, other in pairs)
    )


def _same_place(one: Sheet, other: Sheet) -> bool:
    return one.bend == other.bend and np.array_equal(one.corners_m, other.corners_m)


def targets(setup: Setup, held: Sequence[Held], wanted: Sequence[float], speed: float) -> Floats:
    """Light (n,) [lx·s] that makes each receptor show its f-number at an ISO speed."""
    meter = setup.scene.meter
    constant = {"flat": meter.c_flat, "dome": meter.c_dome}
    light = [
        luminous_exposure_for(number, speed, constant[each.receptor])
        for number, each in zip(wanted, held, strict=True)
    ]
    return np.array(light, float)


def _problem(
    setup: Setup, turned: tuple[Dial, ...], held: list[Held], wanted: list[float], full: Floats
) -> Problem:
    ranges, weights = [], []
    for name, wish in setup.scene.wanted.items():
        low, high = wish.range_stops or (0.0, 0.0)
        if not low <= 0 <= high:
            raise SceneError(
                setup.file,
                f"wanted.{name}.range_stops",
                f"found [{low:g}, {high:g}]",
                "stops below, 0 or negative, then stops above, 0 or positive",
            )
        usual = STOPS_WEIGHT if wish.f_number is None else F_NUMBER_WEIGHT
        ranges.append((low, high))
        weights.append(wish.weight or usual)
    return Problem(
        full=full,
        target=targets(setup, held, wanted, meter_speed(setup)),
        low=np.array([low for low, _ in ranges]),
        high=np.array([high for _, high in ranges]),
        weight=np.array(weights),
        now=np.array([dial.now for dial in turned]),
        least=np.array([dial.least for dial in turned]),
        most=np.zeros(len(turned)),
        step=np.array([dial.step for dial in turned]),
        turns=np.array([dial.turns for dial in turned]),
    )
