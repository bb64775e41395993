"""What a tracing job sees, and which bystanders matter to a light's picture."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render.emission import Ball, Cap, Disk
from render.sitter.body import Fibre, Strands
from render.sitter.hair.thickness import strand_radius_factor
from render.trace.bystanders import bystanders
from render.trace.digest import digest
from render.trace.frames import frame_names, in_quality
from render.trace.stage import depth_for, stage_of, thinned
from tests.sets import front, walls
from tests.unit.trace.small import SIZE, portrait, view


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
    assert (other.name in [f.name for f in bystanders(stage, view())["fill"]]) is matters


@pytest.mark.parametrize(
    ("shape", "centre", "matters"),
    [
        (Cap(0.1, hollow=True), [0.05, 1.2, -0.6], True),  # its cloth is in the frame
        (Cap(0.1, hollow=False), [0.3, 1.2, 0.3], True),  # and in the fill's way
        (Ball(), [0.05, 1.2, -0.6], True),
        (Ball(), [-2.0, 0.3, 1.5], False),
        (Disk(), [0.0, 1.2, 2.6], False),
    ],
)
def test_the_cloth_of_a_bystander_is_solid_too(shape: Any, centre: Any, matters: bool) -> None:
    made = portrait()
    size = {"width_m": 0.3, "height_m": 0.3}
    other = front([0, 0, -1], centre, name="other", shape=shape, **size)
    stage = stage_of(replace(made, fronts=(*made.fronts, other)), "real")
    assert (other.name in [f.name for f in bystanders(stage, view())["fill"]]) is matters


def test_a_digest_tells_apart_what_differs() -> None:
    things = [
        1, 1.5, "1", None, (1, 2), ((1,), 2), np.zeros(3), np.zeros(4), np.zeros((1, 3)),
        np.zeros(3, np.float32), {"a": 1}, {"a": 2}, portrait().body, portrait().view,
    ]  # fmt: skip
    assert len({digest(thing) for thing in things}) == len(things)
    assert digest(portrait().body) == digest(portrait().body)
    big, other = np.zeros(1 << 16), np.ones(1 << 16)
    assert digest(big) == digest(np.zeros(1 << 16)) != digest(other)


def test_fewer_strands_cover_as_much_and_brows_keep_theirs() -> None:
    """Truth: the rule of growth itself: as if only so many had been grown."""
    points = np.random.default_rng(0).random((1000, 4, 3)).astype(np.float32)
    radii = np.full((1000, 4), 4e-5, np.float32)
    hair = Strands("hair_0", points, radii, Fibre(1.0, 0.1))
    fewer = thinned(hair, 0.4)
    np.testing.assert_array_equal(fewer.points, points[:400])
    np.testing.assert_allclose(fewer.radii, 4e-5 * strand_radius_factor(400, 1000), rtol=1e-6)
    assert thinned(hair, 1.0) is hair
    assert thinned(replace(hair, name="brows"), 0.4).points.shape == points.shape


def test_quality_decides_skin_and_strands() -> None:
    """Truth: draft, proof and plain counts share one picture; final is another."""
    stage = stage_of(portrait(), "real")
    draft, proof, count, final = (
        in_quality(stage, q, "llvm") for q in ("draft", "proof", 32, "final")
    )
    assert draft == proof == count
    assert (final.skin, final.strand_share) == ("under", 1.0)
    assert in_quality(stage, "final", "scalar").skin == "surface"
    names = [frame_names(s, view(), SIZE, "llvm")["key"] for s in (draft, proof, final)]
    assert names[0] == names[1] != names[2]
