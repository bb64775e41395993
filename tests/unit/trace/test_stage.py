"""What a tracing job sees, and which bystanders matter to a light's picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from render.trace.bystanders import bystanders
from render.trace.digest import digest
from render.trace.stage import depth_for, stage_of
from tests.sets import front, walls
from tests.unit.trace.small import portrait, view


@pytest.mark.parametrize(("reflectance", "depth"), [(0.05, 8), (0.5, 16), (0.8, 32)])
def test_paler_rooms_get_longer_paths(reflectance: float, depth: int) -> None:
    assert depth_for(walls(reflectance)) == depth


def test_a_stage_without_its_room_keeps_paper_and_panels() -> None:
    made = portrait()
    made = replace(made, sheets=walls(0.5) + made.sheets)
    assert [s.name for s in stage_of(made, "matte", room=False).sheets] == ["paper"]
    assert stage_of(made, "matte", room=False, bounces=1).max_depth == 2


def test_one_lumen_second_each_whatever_the_power() -> None:
    made = portrait()
    louder = tuple(replace(f, luminous_energy_lm_s=99.0) for f in made.fronts)
    assert stage_of(replace(made, fronts=louder), "real").key == stage_of(made, "real").key


@pytest.mark.parametrize(
    ("centre", "matters"),
    [
        ([0.3, 1.2, 0.3], True),  # between the fill and the ball
        ([0.05, 1.2, -0.6], True),  # in the frame
        ([0.0, 1.2, 2.6], False),  # behind the camera
        ([-2.0, 0.3, 1.5], False),  # far aside
    ],
)
def test_bystanders(centre: list[float], matters: bool) -> None:
    made = portrait()
    other = front([0, 0, -1], centre, name="other", width_m=0.1, height_m=0.1)
    stage = stage_of(replace(made, fronts=(*made.fronts, other)), "real")
    assert (other.name in [f.name for f in bystanders(stage, view(), "fill")]) is matters


def test_a_digest_tells_apart_what_differs() -> None:
    things = [
        1, 1.5, "1", None, (1, 2), ((1,), 2), np.zeros(3), np.zeros(4), np.zeros((1, 3)),
        np.zeros(3, np.float32), {"a": 1}, {"a": 2}, portrait().body, portrait().view,
    ]  # fmt: skip
    assert len({digest(thing) for thing in things}) == len(things)
    assert digest(portrait().body) == digest(portrait().body)
    big, other = np.zeros(1 << 16), np.ones(1 << 16)
    assert digest(big) == digest(np.zeros(1 << 16)) != digest(other)
