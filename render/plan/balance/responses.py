"""How every light answers at every wanted point: its light there at full power, once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout import Layout, place
from render.photometry.exposure import luminous_exposure_for
from render.plan.balance.dials import Dial, dials
from render.plan.balance.solve import Problem
from render.report.held import ALL, Held, measure
from render.report.readings import (
    BOUNCE_SAMPLES,
    meter_speed,
    wanted_f_numbers,
    wished_readings,
)
from render.scenefile import Setup
from render.trace import Engine

Floats = NDArray[np.float64]

# An f-number is what the camera is set to; stops around it are a matter of taste.
F_NUMBER_WEIGHT, STOPS_WEIGHT = 10.0, 1.0


@dataclass(frozen=True, slots=True)
class Responses:
    """Light (n wishes, m lights) at full power [lx·s], and what is wanted."""

    setup: Setup
    layout: Layout
    dials: tuple[Dial, ...]
    held: tuple[Held, ...]
    wanted: tuple[float, ...]  # (n,) f-numbers
    direct: Floats  # (n, m), 0 where a light is not fired
    bounce: Floats  # (n, m)
    surfaces: tuple[str, ...]  # what bounce comes from last
    by_surface: Floats  # (n, m, surfaces)
    problem: Problem


def respond(setup: Setup, engine: Engine | None, samples: int = BOUNCE_SAMPLES) -> Responses:
    """Place the set-up and measure every light at every wanted point.

    engine  : traces the bounce; None leaves it out
    Raises SceneError, KitError, MeshError, EngineError.
    """
    if not setup.scene.wanted:
        raise SceneError(setup.file, "wanted", "no wishes", "[wanted] with at least one reading")
    turned = dials(setup)
    layout = place(setup)
    held = wished_readings(setup, layout)
    wanted = wanted_f_numbers(setup)
    for name, wish in setup.scene.wanted.items():
        if wish.light != ALL and not setup.scene.light[wish.light].on:
            raise SceneError(
                setup.file, f"wanted.{name}.light", f"{wish.light} is off", "a light that is on"
            )
    measured = measure(layout, held, engine, samples)
    fired = np.zeros((len(held), len(layout.fronts)))
    for i, each in enumerate(held):
        fired[i, list(each.chosen(layout))] = 1.0
    per_power = fired / np.exp2([dial.now for dial in turned])
    direct, bounce = measured.direct * per_power, measured.bounce * per_power
    return Responses(
        setup,
        layout,
        turned,
        tuple(held),
        tuple(wanted),
        direct,
        bounce,
        measured.surfaces,
        measured.by_surface * per_power[:, :, None],
        _problem(setup, turned, held, wanted, direct + bounce),
    )


def _problem(
    setup: Setup, turned: tuple[Dial, ...], held: list[Held], wanted: list[float], full: Floats
) -> Problem:
    meter, speed = setup.scene.meter, meter_speed(setup)
    constant = {"flat": meter.c_flat, "dome": meter.c_dome}
    target = [
        luminous_exposure_for(number, speed, constant[each.receptor])
        for number, each in zip(wanted, held, strict=True)
    ]
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
        target=np.array(target, float),
        low=np.array([low for low, _ in ranges]),
        high=np.array([high for _, high in ranges]),
        weight=np.array(weights),
        now=np.array([dial.now for dial in turned]),
        least=np.array([dial.least for dial in turned]),
        most=np.zeros(len(turned)),
        step=np.array([dial.step for dial in turned]),
        turns=np.array([dial.turns for dial in turned]),
    )
