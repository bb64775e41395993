"""What has to hold for any reading: light adds, turns with the set, and is the same mirrored."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from render.emission import Cells
from render.photometry.exposure import add_f_numbers, f_number
from render.predict import Obstacles, aims, direct_exposure
from tests.sets import front, layout, sheet

KINDS = st.sampled_from(
    [
        {},
        {"edge_falloff_stops": 1.0},
        {"recess_m": 0.07},
        {"cells": Cells(0.05, 0.08, 0.05)},
        {"edge_falloff_stops": 0.5, "cells": Cells(0.06, 0.05, 0.05), "recess_m": 0.05},
    ]
)
PLACE = st.tuples(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6), st.floats(0.3, 2.0)).map(np.array)
AXIS = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.3).map(np.array)
RECEPTOR = st.sampled_from(["flat", "dome"])
AHEAD = np.array([[0, 0, -1.0]])


def read(a_front, place, axis, receptor="flat"):
    found = direct_exposure(layout(a_front), np.array([place]), np.array([axis]), receptor)
    return found.luminous_exposure_lx_s[0, 0]


@given(KINDS, PLACE, AXIS, RECEPTOR, st.floats(-10, 10))
def test_one_stop_of_power_is_one_stop_of_light(kind, place, axis, receptor, clicks):
    base = front(**kind)
    turned_up = dataclasses.replace(
        base, luminous_energy_lm_s=base.luminous_energy_lm_s * 2.0**clicks
    )
    expected = read(base, place, axis, receptor) * 2.0**clicks
    assert read(turned_up, place, axis, receptor) == pytest.approx(expected, rel=1e-12)


@given(KINDS, PLACE, AXIS, RECEPTOR, st.integers(0, 10**6))
def test_turning_and_moving_the_whole_set_changes_nothing(kind, place, axis, receptor, seed):
    rng = np.random.default_rng(seed)
    turn, move = Rotation.random(rng=rng), rng.uniform(-3, 3, 3)
    base = front(**kind)
    moved = dataclasses.replace(
        base,
        centre_m=turn.apply(base.centre_m) + move,
        right=turn.apply(base.right),
        up=turn.apply(base.up),
    )
    before = read(base, place, axis, receptor)
    after = read(moved, turn.apply(place) + move, turn.apply(axis), receptor)
    assert after == pytest.approx(before, rel=1e-6, abs=1e-12)


@given(KINDS, PLACE, AXIS, RECEPTOR)
def test_mirrored_set_gives_mirrored_readings(kind, place, axis, receptor):
    flip = np.array([-1, 1, 1])
    before, after = (read(front(**kind), place * f, axis * f, receptor) for f in (1, flip))
    assert after == pytest.approx(before, rel=1e-6, abs=1e-12)


@given(KINDS, PLACE, AXIS)
def test_front_cannot_tell_its_width_from_its_height(kind, place, axis):
    # A quarter turn about the axis with width and height changed over is the same front.
    def turned(v):
        return np.array([v[1], -v[0], v[2]])

    base = front(**kind)
    cells = base.cells and Cells(base.cells.height_m, base.cells.width_m, base.cells.depth_m)
    other = dataclasses.replace(base, width_m=0.9, height_m=0.6, cells=cells)
    before = read(base, place, axis)
    assert read(other, turned(place), turned(axis)) == pytest.approx(before, rel=1e-5, abs=1e-9)


@given(KINDS, PLACE, AXIS, RECEPTOR)
@settings(max_examples=60)
def test_error_estimate_stays_far_below_a_tenth_of_a_stop(kind, place, axis, receptor):
    found = direct_exposure(layout(front(**kind)), place[None], axis[None], receptor)
    if found.luminous_exposure_lx_s[0, 0] > 1e-6:
        assert found.error_stops[0, 0] < 0.002


def test_dome_reads_what_flat_reads_when_a_small_light_is_straight_ahead():
    small = front(width_m=0.01, height_m=0.01)
    at = np.array([[0, 0, 2.0]])
    flat, dome = (direct_exposure(layout(small), at, AHEAD, r) for r in ("flat", "dome"))
    ratio = dome.luminous_exposure_lx_s / flat.luminous_exposure_lx_s
    assert ratio[0, 0] == pytest.approx(1, abs=1e-5)


def test_readings_of_two_lights_stay_apart_and_add_as_f_numbers():
    at = np.array([[0, 0, 1.0]])
    a_layout = layout(front(), front((-0.3, 0, 1), (0.5, 0, 0.1)))
    one, two = direct_exposure(a_layout, at, AHEAD, "flat").luminous_exposure_lx_s[0]
    together = f_number(one + two, 100)
    assert together == pytest.approx(add_f_numbers(f_number(one, 100), f_number(two, 100)))


def test_two_equal_lights_read_one_stop_more_than_one():
    # common practice, no source
    pair = layout(front((-0.3, 0, 1), (0.5, 0, 0)), front((0.3, 0, 1), (-0.5, 0, 0)))
    found = direct_exposure(pair, np.array([[0, 0, 1.5]]), AHEAD, "flat").luminous_exposure_lx_s[0]
    assert math.log2(found.sum() / found[0]) == pytest.approx(1)


def test_soft_box_moved_closer_gains_less_than_inverse_square():
    # 1.2 m to 0.6 m with a 60 x 90 cm front: 1.57 stops by two view factors, 2 by inverse square.
    near, far = (read(front(), np.array([0, 0, d]), AHEAD[0]) for d in (0.6, 1.2))
    assert math.log2(near / far) == pytest.approx(1.57, abs=0.006)


@pytest.mark.parametrize(("distance", "stops"), [(0.5, 0.8), (0.75, 0.4), (1.0, 0.25), (1.5, 0.1)])
def test_inverse_square_is_too_bright_close_to_a_soft_box(distance, stops):
    # Planner's table for a 60 x 90 cm front, computed, printed to a tenth.
    point_law = front().luminous_energy_lm_s / math.pi / distance**2
    found = read(front(), np.array([0, 0, distance]), AHEAD[0])
    assert math.log2(point_law / found) == pytest.approx(stops, abs=0.06)


def test_feathering_the_key_evens_out_two_sitters():
    # common practice, no source: aim past the near sitter at the far one.
    near, far = np.array([-0.4, 0, 1.0]), np.array([0.8, 0, 1.6])
    places = np.stack([near, far])
    spread = []
    for target in (near, far):
        key = front(target, edge_falloff_stops=0.5)
        found = direct_exposure(layout(key), places, aims(places, key), "flat")
        spread.append(math.log2(np.divide(*found.luminous_exposure_lx_s[:, 0])))
    assert 0 < spread[1] < spread[0]


def test_face_falls_off_faster_sideways_the_closer_the_soft_box():
    # common practice, no source: close means soft and fast falloff.
    def drop(distance):
        places = np.array([[0, 0, distance], [0.3, 0, distance]])
        found = direct_exposure(layout(front()), places, -np.eye(3)[[2, 2]], "flat")
        return math.log2(np.divide(*found.luminous_exposure_lx_s[:, 0]))

    assert drop(0.7) > drop(1.0) > drop(1.5) > 0


def test_big_light_wraps_further_round_than_a_small_one():
    # common practice, no source: at right angles to the axis only a broad front still reaches.
    side = np.array([1.0, 0, 0])
    big, small = (front(width_m=w, height_m=w, luminous_energy_lm_s=1.0) for w in (1.2, 0.2))
    place = np.array([0, 0, 1.0])
    assert read(big, place, side) > 3 * read(small, place, side) > 0


def test_each_light_can_have_its_own_axis():
    a_layout = layout(front(), front((-1, 0, 1), (0.8, 0, 0)))
    at = np.array([[0, 0, 1.0], [0.1, 0.2, 1.2]])
    own = np.stack([aims(at, f) for f in a_layout.fronts], axis=1)
    together = direct_exposure(a_layout, at, own, "flat").luminous_exposure_lx_s
    for i in range(2):
        alone = direct_exposure(a_layout, at, own[:, i], "flat").luminous_exposure_lx_s
        assert np.array_equal(together[:, i], alone[:, i])


def test_misuse_is_refused():
    a_layout = layout(front())
    at = np.array([[0, 0, 1.0]])
    with pytest.raises(ValueError, match="receptor"):
        direct_exposure(a_layout, at, AHEAD, "round")
    with pytest.raises(ValueError, match="axes"):
        direct_exposure(a_layout, at, np.zeros((2, 3)), "flat")
    with pytest.raises(ValueError, match="length"):
        direct_exposure(a_layout, at, np.zeros((1, 3)), "flat")
    with pytest.raises(ValueError, match="positions"):
        direct_exposure(a_layout, at[0], AHEAD, "flat")
    other = Obstacles.of(layout(front(), front()))
    with pytest.raises(ValueError, match="obstacles"):
        direct_exposure(a_layout, at, AHEAD, "flat", obstacles=other)


def test_set_without_lights_or_places_gives_empty_readings():
    nothing = layout(sheets=(sheet((0, 0, 0), (1, 0, 0), (0, 1, 0), 1, 1),))
    found = direct_exposure(
        nothing, np.array([[0, 0, 1.0]]), AHEAD, "flat", obstacles=Obstacles.of(nothing)
    )
    assert found.luminous_exposure_lx_s.shape == (1, 0)
    a_layout = layout(front(edge_falloff_stops=1.0))
    empty = direct_exposure(
        a_layout, np.zeros((0, 3)), np.zeros((0, 3)), "flat", obstacles=Obstacles.of(a_layout)
    )
    assert empty.luminous_exposure_lx_s.shape == (0, 1)
