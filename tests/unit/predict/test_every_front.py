"""Readings of every shape of front against random places on a surface written out anew."""

from __future__ import annotations

import math

import numpy as np
import pytest

from render.emission import peak_luminance_time, side_shares
from render.predict import direct_exposure
from tests.sets import layout
from tests.unit.predict.brute_force import brute_force
from tests.unit.predict.shapes import SHAPES, STATIONS

DIM = 1e-3  # of L0 · 1 sr: darker readings are checked by their error in light only


@pytest.mark.parametrize("station", STATIONS)
@pytest.mark.parametrize("kind", SHAPES)
def test_reading_matches_random_places_on_the_front(kind, station):
    a_front, (place, axis) = SHAPES[kind], STATIONS[station]
    peak = peak_luminance_time(a_front)  # its flux has a test of its own
    found = brute_force(a_front, place, axis, side_shares(a_front))
    for receptor, (truth, standard_error) in found.items():
        read = direct_exposure(layout(a_front), np.array([place]), np.array([axis]), receptor)
        reading = read.luminous_exposure_lx_s[0, 0] / peak
        assert abs(reading - truth) <= 4 * standard_error + 1e-9
        if truth > DIM:
            assert abs(math.log2(reading / truth)) < 0.02 + 4 * standard_error / truth
        assert read.error_stops[0, 0] < 0.002


@pytest.mark.parametrize("kind", SHAPES)
def test_error_estimate_stays_below_its_limit_where_there_is_light(kind):
    # 60 places and directions all around, some of them behind or inside the front.
    rng = np.random.default_rng(1)
    places, axes = rng.uniform(-1.2, 1.2, (60, 3)), rng.normal(size=(60, 3))
    read = direct_exposure(layout(SHAPES[kind]), places, axes, "flat")
    reading = read.luminous_exposure_lx_s[:, 0]
    lit = reading > 0.01 * reading.max()
    assert lit.any()
    assert read.error_stops[lit, 0].max() < 0.002
