"""Stops, ratios and the way f-numbers are shown."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from render.photometry.exposure import (
    C_FLAT,
    add_f_numbers,
    aperture_value,
    f_number,
    linear_value,
    luminous_exposure_for,
)
from render.photometry.srgb import luminance, srgb_decode, srgb_encode
from render.photometry.stops import (
    FIRST_MARK,
    MARKS,
    f_number_stops,
    key_to_fill,
    lighting_ratio,
    ratio,
    show_f_number,
    stops,
)


def read_back(shown: str) -> float:
    """Exact stops from f/1 of a shown f-number."""
    mark, tenths = shown.removeprefix("f/").split(" +")
    return FIRST_MARK + MARKS.index(mark) + float(tenths)


@given(st.floats(0.126, 250.0))
def test_shown_f_number_lies_within_half_a_tenth(n):
    assert abs(read_back(show_f_number(n)) - 2 * math.log2(n)) <= 0.05 + 1e-9


@given(st.integers(-59, 159))
def test_every_tenth_of_a_stop_comes_back_as_itself(tenths):
    assert read_back(show_f_number(2 ** (tenths / 20))) == pytest.approx(tenths / 10, abs=1e-9)


@given(st.floats(1e-3, 1e6))
def test_no_f_number_is_shown_with_ten_tenths(n):
    assert "+1.0" not in show_f_number(n)
    assert show_f_number(n).startswith("f/")


@pytest.mark.parametrize(
    ("n", "shown"),
    [
        (2 ** (6.96 / 2), "f/11 +0.0"),  # 0.96 stop over f/8 rounds up to the next mark
        (2 ** (6.94 / 2), "f/8 +0.9"),
        (2 ** (-0.8 / 2), "f/0.7 +0.2"),
        (2 ** (-2.5 / 2), "f/0.35 +0.5"),
        (2**0.5 * 256, "f/360 +0.0"),
        (0.0, "-"),
        (-4.0, "-"),
        (math.nan, "-"),
        (math.inf, "-"),
    ],
)
def test_f_number_at_the_edges_of_the_scale(n, shown):
    assert show_f_number(n) == shown


def test_f_8_takes_four_times_the_light_of_f_4():
    # common practice, no source
    assert f_number_stops(8.0) - f_number_stops(4.0) == 2
    assert luminous_exposure_for(8.0, 100) == 4 * luminous_exposure_for(4.0, 100)


def test_one_click_of_iso_or_power_is_one_stop():
    # common practice, no source
    at_100 = f_number(100.0, 100)
    assert stops((f_number(100.0, 200) / at_100) ** 2) == pytest.approx(1)
    assert stops((f_number(200.0, 100) / at_100) ** 2) == pytest.approx(1)


def test_two_equal_lights_read_one_stop_more():
    # common practice, no source
    assert aperture_value(add_f_numbers(8.0, 8.0)) - aperture_value(8.0) == pytest.approx(1)


@given(st.floats(1.0, 64.0), st.floats(1.0, 64.0))
def test_f_numbers_add_as_light_does(first, second):
    light = luminous_exposure_for(first, 100) + luminous_exposure_for(second, 100)
    assert f_number(light, 100) == pytest.approx(add_f_numbers(first, second))


@pytest.mark.parametrize(("apart", "alone", "sides"), [(0, 1, 2), (1, 2, 3), (2, 4, 5), (3, 8, 9)])
def test_same_stops_have_two_ratios(apart, alone, sides):
    # Both conventions are in print; the table of lighting ratios names them.
    key, fill = ratio(float(apart)), 1.0
    assert key_to_fill(key, fill) == alone
    assert lighting_ratio(key, fill) == sides


def test_no_light_is_minus_infinity_stops_without_a_warning():
    assert stops(0.0) == -math.inf
    assert list(stops(np.array([0.0, 1.0, 4.0]))) == [-math.inf, 0.0, 2.0]


@given(st.floats(1.0, 64.0), st.sampled_from([50.0, 100.0, 400.0]))
def test_grey_card_at_the_metered_f_number_is_018(n, iso_speed):
    # Definition of our scale: an 18 % matte card has luminance 0.18 E / pi.
    card = 0.18 * luminous_exposure_for(n, iso_speed, C_FLAT) / math.pi
    assert linear_value(card, iso_speed, n) == pytest.approx(0.18)


@given(st.floats(0.0, 1.0))
def test_srgb_comes_back(linear):
    assert srgb_decode(srgb_encode(linear)) == pytest.approx(linear, abs=1e-7)


def test_srgb_matches_an_independent_library():
    colour = pytest.importorskip("colour.models", reason="colour-science is not installed")
    linear = np.linspace(0, 1, 1001)
    assert np.allclose(srgb_encode(linear), colour.eotf_inverse_sRGB(linear), atol=1e-12)


def test_luminance_of_srgb_primaries_adds_up_to_white():
    # IEC 61966-2-1: second row of the matrix from linear sRGB to XYZ.
    assert luminance(np.array([1.0, 1.0, 1.0])) == pytest.approx(1.0)
    assert luminance(np.eye(3)) == pytest.approx([0.2126, 0.7152, 0.0722])
