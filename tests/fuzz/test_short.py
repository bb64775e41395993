"""A short run of what `python -m tests.fuzz` does at length, and values made by hypothesis."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from render.errors import SceneError
from render.scenefile.parse import as_part
from render.studio.part import seconds, share_of_full, shown_f_number
from render.studio.scene import Scene
from tests.fuzz.hunt import hunt
from tests.fuzz.targets import HEAVY, TARGETS

CASES = 25  # of each kind; half a second of processor time at most
SLOWER = 4  # times, for a whole command line
QUICKLY = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
KEYS = st.sampled_from([*Scene.model_fields, "key", "power", "size_cm", "position_m", "on"])
TREES = st.recursive(
    PLAIN | st.integers(10**400, 10**401),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(KEYS | st.text(max_size=4), inner, max_size=4)
    ),
    max_leaves=12,
)


@pytest.mark.parametrize("target", sorted(set(TARGETS) - set(HEAVY)))
def test_every_case_is_a_sentence_or_a_right_result(target: str) -> None:
    cases = CASES // SLOWER if target in ("commands", "options") else CASES
    told = hunt(target, cases, seed=5)
    assert told.faults == []
    assert told.cases == cases


@QUICKLY
@given(st.dictionaries(KEYS, TREES, max_size=5))
def test_any_tables_are_a_scene_or_a_sentence(tables: dict[str, Any]) -> None:
    said = "set.toml: "
    try:
        as_part(Path("set.toml"), tables, Scene, SceneError)
    except SceneError as problem:
        said = str(problem)
    assert said.startswith("set.toml: ")
    assert len(said) < 2000
    assert said.isprintable()


@QUICKLY
@given(st.text(alphabet="0123456789/+-. f²٣", max_size=12) | TREES)
def test_any_marking_is_a_number_or_refused(found: Any) -> None:
    for read in (share_of_full, shown_f_number, seconds):
        try:
            value = read(found)
        except ValueError:
            continue
        assert not math.isnan(value)
        assert value == 0 or value > 0 or not isinstance(found, str)
