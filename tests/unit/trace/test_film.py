"""A first picture shows what the real one does, with more noise, wherever its lights have gone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render.trace import Engine
from render.trace.stage import Stage, stage_of
from tests.modifiers import FRONTS
from tests.sets import front
from tests.unit.trace.small import SIZE, portrait, view

SAMPLES = 64
PLACES = ([-0.9, 1.9, 1.0], [-0.5, 1.7, 1.2], [0.7, 1.6, 1.3], [0.8, 1.1, 0.9])


def stage(kind: str, centre: Any) -> Stage:
    made = portrait()
    there = front(np.array([0, 1.2, 0]) - centre, centre)
    where = {name: getattr(there, name) for name in ("centre_m", "right", "up")}
    key = replace(FRONTS[kind], name="key", **where)
    return stage_of(replace(made, fronts=(key, *made.fronts[1:])), "real")


def pictures(engine: Engine, job: str, stage: Stage, seeds: range) -> Any:
    """(seeds, lights, h, w, 3)"""
    asked = {"view": view(), "size_px": SIZE, "samples": SAMPLES}
    return np.stack([engine.call(job, stage, asked | {"seed": seed}) for seed in seeds])


@pytest.mark.parametrize("kind", ["measured", "honeycomb"])
def test_moved_lights_are_drawn_where_they_are(engine: Engine, kind: str) -> None:
    for centre in PLACES:  # the steps are written down at the first places, repeated at the last
        drawn = pictures(engine, "sketch", stage(kind, centre), range(2))
    real = pictures(engine, "chunk", stage(kind, centre), range(4, 6))
    assert drawn.shape == real.shape
    # Noise of each quarter of the picture from the two runs of either; both estimate one truth.
    rows, columns = SIZE[1] // 2, SIZE[0] // 2
    quarters = [
        each.reshape(2, 2, 2, rows, 2, columns, 3).mean((3, 5, 6)) for each in (drawn, real)
    ]
    noise = np.sqrt(sum(np.var(each, axis=0, ddof=1).mean() / 2 for each in quarters))
    apart = np.abs(quarters[0].mean(0) - quarters[1].mean(0))
    assert apart.max() < 6 * noise
    assert np.abs(np.log2(drawn.mean() / real.mean())) < 0.02  # stops


def test_a_seed_gives_the_same_picture(engine: Engine) -> None:
    one, other = (pictures(engine, "sketch", stage("honeycomb", PLACES[0]), range(2)) for _ in "ab")
    assert np.array_equal(one, other)
    assert not np.array_equal(one[0], one[1])
