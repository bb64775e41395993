"""Traced meter readings: what reaches a flat receptor or a dome, and how much of it is bounce."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from render.layout.placed import Layout
from render.trace.readings import added, chunks, mean_and_error
from render.trace.stage import Dress, Stage, stage_of
from render.trace.surfaces import surfaces_of
from render.trace.tasks import Readers

Floats = NDArray[np.float64]
Receptor = Literal["flat", "dome"]
SAMPLES = 16384  # standard error 0.002 ... 0.004 stop in a small room (measured)


class ReceptorReading(NamedTuple):
    """Light on receptors by light [lx·s per lm·s], each (m, lights), lights as in the layout."""

    bounce: Floats  # all that does not come straight from a front
    bounce_error: Floats  # its standard error
    total: Floats
    total_error: Floats
    surfaces: tuple[str, ...]  # what bounce can come from last; see `origins`
    by_surface: Floats  # (m, lights, surfaces) the bounce, surface by surface
    by_surface_error: Floats


def receptor_readings(
    layout: Layout,
    positions: ArrayLike,
    axes: ArrayLike,
    receptor: Receptor,
    *,
    engine: Readers,
    dress: Dress = "plain",
    room: bool = True,
    samples: int = SAMPLES,
    seed: int = 0,
) -> ReceptorReading:
    """Hold receptors into the set; they neither shade nor reflect.

    positions, axes : (m, 3) float  where they are [m] and where they face (unit)
    receptor        : "flat" (cosine) or "dome" (cardioid, (1 + cosine) / 2)
    engine          : one that runs, or a crew of workers: the same numbers bit for bit
    raises          : EngineError if the engine fails
    """
    stage = stage_of(layout, dress, room=room)
    return held(stage, positions, axes, receptor, engine=engine, samples=samples, seed=seed)


def held(
    stage: Stage,
    positions: ArrayLike,
    axes: ArrayLike,
    receptor: Receptor,
    *,
    engine: Readers,
    samples: int,
    seed: int,
) -> ReceptorReading:
    """Hold receptors into a stage (see `receptor_readings`)."""
    places = np.asarray(positions, float).reshape(-1, 3)
    facing = np.asarray(axes, float).reshape(-1, 3)
    names = surfaces_of(stage).names
    if not len(places) or not stage.emitting:
        nothing = np.zeros((len(places), len(stage.emitting)))
        by_surface = np.zeros((*nothing.shape, len(names)))
        return ReceptorReading(nothing, nothing, nothing, nothing, names, by_surface, by_surface)
    facing = facing / np.linalg.norm(facing, axis=1, keepdims=True)
    told = {"positions": places, "axes": facing, "receptor": receptor}
    parts = [
        told | {"samples": count, "seed": seed + k}
        for k, count in enumerate(chunks(len(places), samples))
    ]
    sums = added(engine.read("receptors", stage, parts))
    bounce, total, apart = (mean_and_error(sums[k], sums[k + 1], samples) for k in (0, 2, 4))
    return ReceptorReading(*bounce, *total, names, *apart)
