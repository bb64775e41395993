"""A picture by steps that are written down once shows the set wherever its lights have gone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render.trace import Engine, tally
from render.trace.stage import Stage, stage_of
from render.trace.tally import bands
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


def pictures(engine: Engine, stage: Stage, seeds: range, **told: Any) -> Any:
    """(seeds, lights, h, w, 3)"""
    asked = {"view": view(), "size_px": SIZE, "samples": SAMPLES} | told
    return np.stack([engine.call("chunk", stage, asked | {"seed": seed}) for seed in seeds])


def quarters(made: Any) -> Any:
    """Means over the quarters of the picture, (seeds, lights, 2, 2)."""
    rows, columns = SIZE[1] // 2, SIZE[0] // 2
    return made.reshape(*made.shape[:2], 2, rows, 2, columns, 3).mean((3, 5, 6))


def alike(some: Any, others: Any) -> bool:
    """Within six errors of the two runs of either: both estimate one truth."""
    each = quarters(some), quarters(others)
    noise = np.sqrt(sum(np.var(one, axis=0, ddof=1).mean() / 2 for one in each))
    return bool(np.abs(each[0].mean(0) - each[1].mean(0)).max() < 6 * noise)


@pytest.mark.parametrize("kind", ["measured", "honeycomb"])
def test_one_light_alone_is_as_among_the_others(engine: Engine, kind: str) -> None:
    """Truth: lights do not change each other, so what else is wanted changes the noise alone."""
    for centre in PLACES:  # the steps are written down at the first places, repeated at the last
        alone = pictures(engine, stage(kind, centre), range(2), only=("key",))
    both = pictures(engine, stage(kind, PLACES[-1]), range(4, 6))
    assert alone.shape[1] == 1
    assert both.shape[1] == 2
    assert alike(alone, both[:, :1])
    assert np.abs(np.log2(alone.mean() / both[:, 0].mean())) < 0.02  # stops


def test_a_seed_gives_the_same_picture(engine: Engine) -> None:
    one, other = (pictures(engine, stage("honeycomb", PLACES[0]), range(2)) for _ in "ab")
    assert np.array_equal(one, other)
    assert not np.array_equal(one[0], one[1])


def test_counts_of_samples_that_are_no_power_of_two(engine: Engine) -> None:
    """Truth: as many samples as there may be estimate the same light."""
    some = pictures(engine, stage("honeycomb", PLACES[0]), range(2), samples=48)
    assert alike(some, pictures(engine, stage("honeycomb", PLACES[0]), range(2, 4)))


def test_bands_cover_a_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth by hand: 5 million pixels x 16 samples are five bands of a million pixels."""
    assert bands(480 * 600, 16) == (1, 480 * 600)
    assert bands(5_000_000, 16) == (5, 1_000_000)
    monkeypatch.setattr(tally, "PATHS_AT_ONCE", 1000)
    count, pixels = bands(721, 16)  # the last one ends beyond the picture
    assert (count - 1) * pixels < 721 <= count * pixels
    assert pixels * 16 <= 1000
