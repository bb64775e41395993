"""Shadows on light from fronts of any shape: sitter, panels, barn doors, heads, other lights."""

from __future__ import annotations

import math

import numpy as np
import pytest

from render.emission import Ball, Cap, Disk, Doors, cloth, peak_luminance_time, shades, side_shares
from render.photometry.formfactors import polygon_view_factor
from render.predict import Obstacles, direct_exposure
from tests.sets import ball, front, layout, sheet
from tests.unit.predict.brute_force import brute_force
from tests.unit.predict.shapes import SHAPES, round_front
from tests.unit.predict.test_shadows import behind_ball

CENTRE, RADIUS = np.array([0.05, -0.02, 0.6]), 0.12
PLACES = {
    "ahead": ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)),
    "aside": ((0.25, 0.15, 1.2), (-0.4, -0.2, -0.9)),
}


def read(a_layout, place, axis=None, receptor="flat"):
    place = np.array([place])
    axis = -place if axis is None else np.array([axis])
    obstacles = Obstacles.of(a_layout)
    return direct_exposure(a_layout, place, axis, receptor, obstacles=obstacles)


def share(a_layout, place):
    """Visible share of the first light, and its error, at a place that faces the origin."""
    found = read(a_layout, place)
    return found.visible_fraction[0, 0], found.error_stops[0, 0]


def past_edge(place):
    """What a panel at z = 0.4 m from x = -0.97 to 0.03 m, endlessly high, hides from a place."""

    def hides(at):
        along = (0.4 - at[:, 2]) / (place[2] - at[:, 2])
        x = at[:, 0] + along * (place[0] - at[:, 0])
        return (along > 0) & (along < 1) & (x > -0.97) & (x < 0.03)

    return hides


OBSTACLES = {
    "ball": (
        {"body": ball(CENTRE, RADIUS, 6)},
        lambda place: lambda at: behind_ball(CENTRE, RADIUS)(place, at),
    ),
    "panel": ({"sheets": (sheet((-0.47, 0, 0.4), (1, 0, 0), (0, 1, 0), 1.0, 4.0),)}, past_edge),
}


@pytest.mark.parametrize("station", PLACES)
@pytest.mark.parametrize("obstacle", OBSTACLES)
@pytest.mark.parametrize("kind", SHAPES)
def test_what_is_left_past_an_obstacle_is_what_geometry_says(kind, obstacle, station):
    a_front, (place, axis) = SHAPES[kind], PLACES[station]
    things, hides = OBSTACLES[obstacle]
    found = read(layout(a_front, **things), place, axis)
    reading = found.luminous_exposure_lx_s[0, 0] / peak_luminance_time(a_front)
    sides = side_shares(a_front)
    truth, standard_error = brute_force(a_front, place, axis, sides, hides(np.array(place)))["flat"]
    assert truth > 0
    assert abs(reading - truth) < 4 * standard_error
    assert abs(math.log2(reading / truth)) < 0.02 + 4 * standard_error / truth
    assert found.error_stops[0, 0] < 0.004


def doors(**angles):
    wide = {"left_deg": None, "right_deg": None, "top_deg": None, "bottom_deg": None}
    return Doors(**{**wide, **angles}, length_m=0.15)


REFLECTOR = {"width": 0.18, "shape": Disk(), "edge_falloff_stops": 0.5}


def through_plates(a_front, place):
    """What the plates of a front hide from a place: a straight way through a parallelogram."""
    corners = shades(a_front)[0].reshape(-1, 4, 3)

    def hides(at):
        hit = np.zeros(len(at), bool)
        for a, b, _, d in corners:
            normal = np.cross(b - a, d - a)
            along = ((a - at) @ normal) / ((place - at) @ normal)
            met = at + along[:, None] * (place - at) - a
            u, v = (met @ side / (side @ side) for side in (b - a, d - a))
            hit |= (along > 0) & (along < 1) & (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1)
        return hit

    return hides


@pytest.mark.parametrize("place", [(0.6, 0, 1.4), (0.3, 0.2, 1.4), (-0.7, 0.1, 1.0), (0, 0.9, 1.0)])
def test_barn_doors_hide_what_their_plates_hide(place):
    a_front = round_front(**REFLECTOR, doors=doors(left_deg=30, right_deg=5, top_deg=45))
    found, error = share(layout(a_front), place)
    whole, _ = brute_force(a_front, place, -np.array(place))["flat"]
    left, spread = brute_force(
        a_front, place, -np.array(place), hides=through_plates(a_front, np.array(place))
    )["flat"]
    assert abs(found - left / whole) < 4 * spread / whole + 0.003
    assert error < 0.004 or found == 0


def test_barn_doors_cut_a_side_and_leave_the_middle():
    # common practice, no source
    bare, cut = round_front(**REFLECTOR), round_front(**REFLECTOR, doors=doors(right_deg=10))
    middle, side, other = (0, 0, 2.0), (2.0, 0, 1.0), (-1.2, 0, 1.6)
    for place in (middle, other):
        assert share(layout(cut), place) == (1.0, pytest.approx(0, abs=1e-3))
    assert share(layout(cut), side)[0] < 0.003  # the hinge is 1 mm before the cloth
    assert share(layout(bare), side)[0] == 1


@pytest.mark.parametrize("x", [0.31, 0.36, 0.42, 0.5, 0.58])
def test_edge_of_a_barn_door_draws_the_penumbra_of_its_front(x):
    # A door straight ahead, 0.4 m long, beside a 0.6 x 0.9 m front. From beyond it the edge of the
    # door falls on the front at x0 by similar triangles: what is left is a rectangle up to there.
    height, length = 1.5, 0.4
    box = front(doors=Doors(None, 0.0, None, None, length))
    place, axis = (x, 0.0, height), (0.0, 0.0, -1.0)
    found = read(layout(box), place, axis)
    lip = 1e-3  # the hinge of the door
    x0 = min(x + (0.3 - x) * height / (height - length - lip), 0.3)

    def factor(right):
        corners = np.array([[-0.3, -0.45], [right, -0.45], [right, 0.45], [-0.3, 0.45]])
        seen = np.c_[corners, np.zeros(4)] - place
        return polygon_view_factor(seen, np.array(axis))

    expected = factor(x0) / factor(0.3)
    # A door seen nearly from its edge may slip between the rays: the error says by how much.
    off = abs(math.log2(found.visible_fraction[0, 0] / expected))
    assert off < 0.003 + found.error_stops[0, 0] < 0.02


@pytest.mark.parametrize("distance", [1.2, 2.0, 4.0])
def test_head_before_a_hollow_umbrella_takes_its_share(distance):
    # Light on the axis of an even disk goes with sin² of its half angle; the head, a cylinder,
    # hides the disk within the angle of its end nearest to the place.
    width, length, depth = 0.12, 0.25, 0.2
    umbrella = round_front(0.9, Cap(depth, True), head_m=(width, length))
    found, error = share(layout(umbrella), (0.0, 0.0, distance))
    end = distance - 0.6 * depth - length  # from the place to the head
    hidden = (width / 2) ** 2 / ((width / 2) ** 2 + end**2)
    whole = 0.45**2 / (0.45**2 + distance**2)
    assert found == pytest.approx(1 - hidden / whole, abs=3e-3)
    assert error < 0.002


def test_head_of_a_bulging_umbrella_stands_in_the_light_that_goes_backwards():
    umbrella = round_front(0.9, Cap(0.2, False, 0.4), head_m=(0.12, 0.25))
    assert share(layout(umbrella), (0.0, 0.0, 2.0))[0] == 1
    behind, _ = share(layout(umbrella), (0.0, 0.0, -2.0))
    assert 0.9 < behind < 0.99


@pytest.mark.parametrize("shape", [Cap(0.2, False, 0.4), Cap(0.2, True), Ball()])
def test_cloth_of_another_light_is_solid(shape):
    lamp = round_front(0.1, Disk())
    other = round_front(0.9, shape, centre=(0.0, 0.0, 1.0), normal=(1.0, 0.0, 0.0))
    assert len(cloth(other)[1]) > 0
    alone = read(layout(lamp), (0.0, 0.0, 2.5)).luminous_exposure_lx_s[0, 0]
    both = read(layout(lamp, other), (0.0, 0.0, 2.5), (0.0, 0.0, -1.0))
    past = read(layout(lamp, other), (0.0, 1.5, 1.2), (0.0, -1.0, -1.0))
    assert alone > 0
    if isinstance(shape, Ball):
        assert both.visible_fraction[0, 0] == 0
    else:  # seen from its edge, the bowl leaves a part
        assert both.visible_fraction[0, 0] < 1
    assert past.visible_fraction[0, 0] == 1


@pytest.mark.parametrize("kind", SHAPES)
def test_a_front_does_not_hide_itself(kind):
    a_front = SHAPES[kind]
    for place in [(0.1, 0.05, 0.7), (0.5, -0.2, 1.5)]:
        found, _ = share(layout(a_front), place)
        assert found == 1 or np.isnan(found)


def test_a_place_inside_the_cloth_reads_nothing_and_says_so():
    for light in (round_front(0.9, Cap(0.3, True)), round_front(0.5, Ball())):
        found = read(layout(light), (0.0, 0.0, -0.05), (0.0, 0.0, -1.0))
        assert found.luminous_exposure_lx_s[0, 0] == 0
        assert found.error_stops[0, 0] == np.inf
