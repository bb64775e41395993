"""The two witnesses agree on every bundled scene: closed form against the tracer.

Bounds as in README: 0.02 stop with a standard error of at most 0.007 for light that comes straight
from the fronts to a grey sitter.
"""

from functools import cache

import pytest

import render
from render.folders import scene_names
from render.report.spotting import AS_SEEN, MATTE_DIRECT, MATTE_ROOM, SPOT_SAMPLES, STAGES

AS_SEEN_SAMPLES = 8192  # nothing is said of these numbers here but that they are there
ALL_STAGES = "workshop-gelled"  # three lights, gels; the stages that are not judged, once


@cache
def compared(name: str) -> render.Comparison:
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(SPOT_SAMPLES, AS_SEEN, AS_SEEN_SAMPLES)
        stages = STAGES if name == ALL_STAGES else STAGES[:1]
        return render.compare(render.load_scene(name), stages=stages)


@pytest.fixture(params=scene_names())
def comparison(request: pytest.FixtureRequest) -> render.Comparison:
    return compared(request.param)


@pytest.fixture
def staged() -> render.Comparison:
    return compared(ALL_STAGES)


def test_straight_light_agrees_within_a_fiftieth_of_a_stop(comparison: render.Comparison) -> None:
    judged = [row for row in comparison.rows if row.judged]
    assert len(judged) >= 3
    for row in judged:
        assert row.standard_error_stops is not None
        assert row.difference_stops is not None
        assert row.standard_error_stops <= 0.007, row
        assert abs(row.difference_stops) <= 0.02, row
        assert row.verdict == "agrees"


def test_the_reference_agrees_in_absolute_light(comparison: render.Comparison) -> None:
    """Not only ratios: lx·s per lm·s of the front are the same in both."""
    assert abs(comparison.reference_difference_stops) < 0.02


def test_the_room_only_adds_light(staged: render.Comparison) -> None:
    """In absolute light bounce adds; relative to the lit key cheek the shade gains most."""
    direct = {(r.point, r.light): r for r in staged.rows if r.stage == MATTE_DIRECT}
    room = {(r.point, r.light): r for r in staged.rows if r.stage == MATTE_ROOM}
    assert direct.keys() == room.keys()
    gains = [
        (row.rendered_stops or 0) - (direct[key].rendered_stops or 0)
        for key, row in room.items()
        if direct[key].judged and row.light == staged.re_light
    ]
    assert max(gains) > 0.02


def test_every_row_has_its_three_stages(staged: render.Comparison) -> None:
    stages = [row.stage for row in staged.rows]
    counts = {stage: stages.count(stage) for stage in (MATTE_DIRECT, MATTE_ROOM, AS_SEEN)}
    assert len(set(counts.values())) == 1
