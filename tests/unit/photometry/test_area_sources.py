"""Closed forms of area sources against quadrature and against each other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from render.photometry import catalogue as cat
from render.photometry.enclosure import all_bounces, black_share, first_bounce, mean_direct
from render.photometry.formfactors import (
    polygon_dome_response,
    polygon_solid_angle,
    polygon_vector,
    polygon_view_factor,
    rectangle_solid_angle,
    strip_view_factor,
)
from render.photometry.receptors import dome_response, flat_response

SIZE = st.floats(0.1, 2.0)
COORDINATE = st.floats(-1.5, 1.5)
DIRECTION = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1)


def corners(x0, x1, y0, y1, z):
    """A rectangle parallel to the x-y plane, seen from the receptor at 0."""
    return np.array([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]], float)


def unit(v):
    return np.asarray(v, float) / np.linalg.norm(v)


def integral(response, axis, x0, x1, y0, y1, z):
    """The same by adaptive quadrature over the rectangle."""

    def density(y, x):
        d = math.sqrt(x * x + y * y + z * z)
        return float(response((axis[0] * x + axis[1] * y + axis[2] * z) / d)) * z / d**3

    return dblquad(density, x0, x1, y0, y1, epsabs=1e-9, epsrel=1e-8)[0]


@pytest.mark.parametrize(
    "axis", [(0, 0, 1), (1, 0, 0.2), (0.3, -0.8, 0.4), (-1, 1, -0.2), (0, 1, 0), (0.1, 0.2, -1)]
)
def test_flat_receptor_with_any_tilt_matches_quadrature(axis):
    area = (-0.3, 0.5, -0.45, 0.7, 0.8)
    truth = integral(flat_response, unit(axis), *area) / math.pi
    # The horizon's kink limits the quadrature, not the closed form.
    assert polygon_view_factor(corners(*area), unit(axis)) == pytest.approx(truth, abs=2e-7)


@pytest.mark.parametrize("axis", [(0, 0, 1), (1, 0, 0.2), (-1, 1, -0.2), (0, 0.2, -1)])
def test_dome_matches_quadrature_also_from_behind(axis):
    area = (-0.3, 0.5, -0.45, 0.7, 0.8)
    truth = integral(dome_response, unit(axis), *area)
    assert polygon_dome_response(corners(*area), unit(axis)) == pytest.approx(truth, rel=1e-9)


@given(SIZE, SIZE, SIZE)
def test_polygon_on_axis_is_four_corner_rectangles(width, height, distance):
    shape = corners(-width / 2, width / 2, -height / 2, height / 2, distance)
    catalogue = cat.rectangle_on_axis(width, height, distance)
    assert polygon_view_factor(shape, np.array([0, 0, 1.0])) == pytest.approx(catalogue, rel=1e-10)
    solid = rectangle_solid_angle(width, height, distance)
    assert polygon_solid_angle(shape) == pytest.approx(solid, rel=1e-10)


@given(COORDINATE, COORDINATE, SIZE, SIZE, SIZE, DIRECTION)
def test_light_from_two_halves_adds_and_order_of_corners_does_not_matter(x, y, w, h, z, axis):
    n = unit(axis)
    whole = corners(x, x + w, y, y + h, z)
    halves = [corners(x, x + w / 2, y, y + h, z), corners(x + w / 2, x + w, y, y + h, z)]
    for closed in (polygon_view_factor, polygon_dome_response):
        total = sum(closed(half, n) for half in halves)
        assert closed(whole, n) == pytest.approx(total, abs=1e-11)
        assert closed(whole[::-1], n) == pytest.approx(closed(whole, n), abs=1e-12)


@given(COORDINATE, COORDINATE, SIZE, SIZE, SIZE, DIRECTION)
def test_front_side_less_back_side_is_the_vector(x, y, w, h, z, axis):
    n, shape = unit(axis), corners(x, x + w, y, y + h, z)
    net = polygon_view_factor(shape, n) - polygon_view_factor(shape, -n)
    assert net == pytest.approx(polygon_vector(shape) @ n / math.pi, abs=1e-11)


@given(COORDINATE, COORDINATE, SIZE, SIZE, SIZE, DIRECTION)
def test_dome_forwards_and_backwards_make_the_solid_angle(x, y, w, h, z, axis):
    n, shape = unit(axis), corners(x, x + w, y, y + h, z)
    both = polygon_dome_response(shape, n) + polygon_dome_response(shape, -n)
    assert both == pytest.approx(abs(polygon_solid_angle(shape)), abs=1e-11)


def test_long_strip_approaches_the_endless_one():
    shape = corners(-0.15, 0.15, -500, 500, 1.0)
    endless = strip_view_factor(0.3, 1.0)
    assert polygon_view_factor(shape, np.array([0, 0, 1.0])) == pytest.approx(endless, abs=1e-6)


def test_many_sided_polygon_approaches_the_disk():
    # Howell's disk formulas, on axis, beside it and upright, against a regular polygon.
    turn = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    ring = np.stack([0.5 * np.cos(turn), 0.5 * np.sin(turn), np.ones_like(turn)], -1)
    aside = ring + np.array([1.0, 0, 0])
    up, along = np.array([0, 0, 1.0]), np.array([1.0, 0, 0])
    for shape, axis, disk in (
        (ring, up, cat.disk_on_axis(0.5, 1)),
        (ring, np.array([0.5, 0, 0.75**0.5]), cat.disk_on_axis(0.5, 1, math.radians(30))),
        (aside, up, cat.disk_parallel(0.5, 1, 1)),
        (aside, along, cat.disk_upright(0.5, 1, 1)),
    ):
        assert polygon_view_factor(shape, axis) == pytest.approx(disk, rel=1e-5)
    assert polygon_solid_angle(ring) == pytest.approx(cat.disk_solid_angle(0.5, 1), rel=1e-5)


def test_disk_formulas_refuse_what_they_do_not_cover():
    with pytest.raises(ValueError, match="horizon"):
        cat.disk_on_axis(0.5, 1, math.radians(70))
    with pytest.raises(ValueError, match="outside"):
        cat.disk_upright(0.5, 1, 0.4)


@pytest.mark.parametrize(("w", "d", "h"), [(1, 1, 1), (3, 4, 2.4)])
def test_faces_of_a_box_see_nothing_but_each_other(w, d, h):
    # Closure: the view factors from the floor to the ceiling and four walls add to 1.
    walls = 2 * cat.joined_rectangles(w, h, d) + 2 * cat.joined_rectangles(d, h, w)
    assert cat.opposed_rectangles(w, d, h) + walls == pytest.approx(1, abs=1e-12)


def test_room_a_estimate_with_its_black_lamp():
    # 38.847 estimated, 38.924 lx true (Galerkin radiosity): computed, room A at reflectance 0.5.
    energy, area, lamp = math.pi * 1000 * 0.54, 86.8, 0.54
    rho = black_share(0.5, area, lamp)
    total = mean_direct(energy, area) + all_bounces(energy, area, rho)
    assert total == pytest.approx(38.847, abs=5e-4)
    assert abs(math.log2(total / 38.924)) < 0.003


def test_first_bounces_add_up_to_all_of_them():
    series = sum(first_bounce(100.0 * 0.6**k, 40.0, 0.6) for k in range(200))
    assert all_bounces(100.0, 40.0, 0.6) == pytest.approx(series)


def test_room_that_swallows_nothing_is_refused():
    with pytest.raises(ValueError, match="reflectance"):
        all_bounces(1.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("angle_deg", "flat", "dome"), [(30, -0.2, -0.1), (45, -0.5, -0.23), (60, -1.0, -0.42)]
)
def test_meter_turned_away_from_a_light_loses_stops(angle_deg, flat, dome):
    # Planner's table, computed for an ideal cosine and an ideal cardioid receptor.
    cosine = math.cos(math.radians(angle_deg))
    assert math.log2(flat_response(cosine)) == pytest.approx(flat, abs=0.05)
    assert math.log2(dome_response(cosine)) == pytest.approx(dome, abs=0.05)
