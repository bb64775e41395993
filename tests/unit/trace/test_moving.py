"""A set in which things were moved shows the same, to the last bit, as one that is built so."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render.emission import Front
from render.errors import EngineError
from render.sitter.body import Body, Fibre, Strands
from render.trace import Engine
from render.trace.stage import Stage, stage_of
from tests.modifiers import FRONTS
from tests.sets import front, sheet
from tests.unit.trace.small import SIZE, X, Y, portrait, view

# Of each way a light can be told where it is: disk with a lip, ball, mesh.
KINDS = ("dish", "lantern", "shoot-through")


def placed(kind: str, centre: Any, towards: Any) -> Front:
    there = front(towards, centre)
    where = {name: getattr(there, name) for name in ("centre_m", "right", "up")}
    return replace(FRONTS[kind], name="key", **where)


def lit(kind: str, centre: Any, towards: Any) -> Stage:
    made = portrait()
    fill = made.fronts[1]
    return stage_of(replace(made, fronts=(placed(kind, centre, towards), fill)), "real")


def film(engine: Engine, stage: Stage) -> Any:
    asked = {"view": view(), "size_px": SIZE, "samples": 4, "seed": 3}
    return engine.call("chunk", stage, asked)


def shows_as_built(engine: Engine, first: Stage, second: Stage) -> bool:
    """Whether a set that is changed in place shows what one shows that is built for it."""
    for _ in range(3):  # steps of before are repeated from the second time on
        before, after = film(engine, first), film(engine, second)
    film(engine, replace(second, max_depth=second.max_depth + 1))  # another set: that one goes
    return np.array_equal(after, film(engine, second)) and not np.array_equal(after, before)


@pytest.mark.parametrize("kind", KINDS)
def test_moved_is_as_built(engine: Engine, kind: str) -> None:
    first = lit(kind, [-0.9, 1.9, 1.0], [0.9, -0.7, -1.0])
    assert shows_as_built(engine, first, lit(kind, [0.7, 1.6, 1.3], [-0.7, -0.35, -1.2]))


PAPER = sheet(
    [0, 1.2, -1.0], X, Y, 2.0, 2.0, name="paper", kind="backdrop", reflectance=(0.2, 0.2, 0.2)
)


SHEETS = {
    "farther away and lower": replace(PAPER, centre_m=np.array([0.1, 1.0, -1.4])),
    "of another colour": replace(PAPER, reflectance=(0.5, 0.1, 0.05)),
    "turned and larger": replace(PAPER, right=np.array([0.8, 0, 0.6]), width_m=2.4),
    "alike on both sides": replace(PAPER, reflectance=(0.0, 0.0, 0.0)),
    "silver": replace(PAPER, reflectance=(0.8, 0.8, 0.8), roughness=0.25),
}


@pytest.mark.parametrize("name", SHEETS)
def test_a_changed_sheet_is_as_built(engine: Engine, name: str) -> None:
    """Silver is of other parts: that set is built anew."""
    made = replace(portrait(), sheets=(PAPER,))
    stages = [stage_of(replace(made, sheets=(each,)), "real") for each in (PAPER, SHEETS[name])]
    assert shows_as_built(engine, *stages)


def bristly(turn_deg: float) -> Body:
    """A ball with some bristles on one side, turned about the upright and as much aside."""
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turn = np.array([[cosine, 0, sine], [0, 1, 0], [-sine, 0, cosine]])
    centre, ball = np.array([0, 1.2, 0]), portrait().body
    assert ball is not None

    def there(points: Any) -> Any:
        aside = np.array([0.002 * turn_deg, 0, 0])
        return ((np.asarray(points) - centre) @ turn.T + centre + aside).astype(np.float32)

    ways = np.random.default_rng(2).normal([0.6, 0.5, 0.6], 0.2, (60, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    points = centre + ways[:, None] * np.linspace(0.1, 0.16, 4)[:, None]
    strands = Strands("hair", there(points), np.full((60, 4), 1e-3, np.float32), Fibre(0.5, 0.5))
    surfaces = tuple(
        replace(each, vertices=there(each.vertices), normals=(each.normals @ turn.T))
        for each in ball.surfaces
    )
    return replace(ball, surfaces=surfaces, strands=(strands,), version=f"{turn_deg}")


def test_a_turned_sitter_is_as_built(engine: Engine) -> None:
    first, second = (
        stage_of(replace(portrait(), body=bristly(degrees)), "real") for degrees in (0, 20)
    )
    assert shows_as_built(engine, first, second)


def test_a_change_that_fails_half_way_leaves_nothing_behind(engine: Engine) -> None:
    """Truth: the turned sitter as an engine shows them that was never asked for a broken light."""
    one, two = (replace(portrait(), body=replace(bristly(d), version="1")) for d in (0, 20))
    first, second = stage_of(one, "real"), stage_of(two, "real")
    truth = film(engine, second)
    film(engine, replace(second, max_depth=second.max_depth + 1))  # another set: that one goes
    film(engine, first)
    key = replace(second.fronts[0], centre_m=np.zeros(2))  # nowhere in a room
    with pytest.raises(EngineError, match="refused a job"):
        film(engine, replace(second, fronts=(key, *second.fronts[1:])))
    film(engine, replace(second, max_depth=second.max_depth + 1))
    assert np.array_equal(film(engine, second), truth)
