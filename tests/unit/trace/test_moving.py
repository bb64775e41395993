"""A set whose lights were moved shows the same, to the last bit, as one that is built there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render.emission import Front
from render.trace import Engine
from render.trace.stage import Stage, stage_of
from tests.modifiers import FRONTS
from tests.sets import front
from tests.unit.trace.small import SIZE, portrait, view

# Of each way a light can be told where it is: disk with a lip, ball, mesh.
KINDS = ("dish", "lantern", "shoot-through")


def placed(kind: str, centre: Any, towards: Any) -> Front:
    there = front(towards, centre)
    where = {name: getattr(there, name) for name in ("centre_m", "right", "up")}
    return replace(FRONTS[kind], name="key", **where)


def stage(kind: str, centre: Any, towards: Any) -> Stage:
    made = portrait()
    fill = made.fronts[1]
    return stage_of(replace(made, fronts=(placed(kind, centre, towards), fill)), "real")


def film(engine: Engine, stage: Stage) -> Any:
    asked = {"view": view(), "size_px": SIZE, "samples": 4, "seed": 3}
    return engine.call("chunk", stage, asked)


@pytest.mark.parametrize("kind", KINDS)
def test_moved_is_as_built(engine: Engine, kind: str) -> None:
    first = stage(kind, [-0.9, 1.9, 1.0], [0.9, -0.7, -1.0])
    moved = stage(kind, [0.7, 1.6, 1.3], [-0.7, -0.35, -1.2])
    before = film(engine, first)
    after = film(engine, moved)
    film(engine, replace(moved, max_depth=moved.max_depth + 1))  # another set: that one goes
    assert np.array_equal(after, film(engine, moved))
    assert not np.array_equal(after[0], before[0])
