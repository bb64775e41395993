"""Round and many-sided fronts against formulas from catalogues and handbooks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from render.emission import Ball, Cap, Disk, Honeycomb, Polygon
from render.emission.beams import cells_share
from render.photometry.catalogue import disk_on_axis, disk_parallel, disk_solid_angle, disk_upright
from render.predict import direct_exposure
from tests.checks import CHECKS
from tests.sets import front, layout
from tests.unit.predict.shapes import round_front

TOWARDS = (0.0, 0.0, -1.0)


def read(a_front, place, axis, receptor="flat"):
    found = direct_exposure(layout(a_front), np.array([place]), np.array([axis]), receptor)
    assert found.error_stops[0, 0] < 0.002
    return found.luminous_exposure_lx_s[0, 0]


def factor(a_front, place, axis, receptor="flat"):
    """Reading as a share of pi times the luminance of an evenly bright flat matte front."""
    return read(a_front, place, axis, receptor) * a_front.area_m2 / a_front.luminous_energy_lm_s


def disk_factor(place, axis, receptor="flat"):
    return factor(round_front(1.0, Disk()), place, axis, receptor)


TILT = math.radians(30)
DISK_ROWS = {
    "AS-01": lambda: disk_factor((0, 0, 1), TOWARDS),
    "AS-02": lambda: disk_factor((0, 0, 1), (math.sin(TILT), 0, -math.cos(TILT))),
    "AS-03": lambda: disk_factor((0.75, 0, 1), TOWARDS),
    "AS-04": lambda: disk_factor((1.0, 0, 1), (-1, 0, 0)),
    "AS-12": lambda: disk_factor((0, 0, 1), TOWARDS, "dome"),
}


@pytest.mark.parametrize("row", DISK_ROWS)
def test_disk_reads_the_catalogue_value(row):
    # Rows of the check file: Howell B-12, B-13 and its neighbours, dome by solid angle.
    assert DISK_ROWS[row]() == pytest.approx(CHECKS[row].values[0], rel=1e-5)


@pytest.mark.parametrize("radius", [0.09, 0.35, 0.75])
@pytest.mark.parametrize("distance", [0.2, 0.7, 2.5])
@pytest.mark.parametrize("offset", [0.0, 0.4, 1.5])
def test_disk_reads_what_the_catalogue_says(radius, distance, offset):
    disk, place = round_front(2 * radius, Disk()), (offset, 0.0, distance)
    assert factor(disk, place, TOWARDS) == pytest.approx(
        disk_parallel(radius, distance, offset), rel=1e-4
    )
    if offset > radius:
        found = factor(disk, place, (-1.0, 0.0, 0.0))
        assert found == pytest.approx(disk_upright(radius, distance, offset), rel=1e-4)


@pytest.mark.parametrize("diameters", [1, 2, 3, 5, 10])
def test_inverse_square_over_estimates_a_disk_by_the_five_times_rule(diameters):
    # Check rows FT-D: exactly 100 / (4 k²) % at k diameters, 1 % at five (IES definition 9.1.1).
    disk = round_front(0.6, Disk())
    point_law = 1 / math.pi / (0.6 * diameters) ** 2
    over = 100 * (point_law / read(disk, (0, 0, 0.6 * diameters), TOWARDS) - 1)
    assert over == pytest.approx(100 / (4 * diameters**2), rel=1e-4)
    assert CHECKS[f"FT-D{diameters}"].agrees(over)


def test_octa_and_square_box_of_equal_area_read_alike_at_three_times_their_width():
    octa = round_front(1.2, Polygon(8))
    side = math.sqrt(octa.area_m2)
    box = front(width_m=side, height_m=side, luminous_energy_lm_s=1.0)
    for place in ((0, 0, 3.6), (1.5, 0.4, 3.3)):
        both = [read(light, place, -np.array(place)) for light in (octa, box)]
        assert abs(math.log2(both[0] / both[1])) < 0.05


@pytest.mark.parametrize("distance", [0.26, 0.5, 1.0, 4.0])
def test_matte_ball_obeys_the_inverse_square_law_at_any_distance(distance):
    ball = round_front(0.5, Ball())  # 1 lm·s all around is 1 / 4 pi cd·s in every direction
    direction = np.array([0.3, -0.6, -0.5]) / np.linalg.norm([0.3, -0.6, -0.5])
    found = read(ball, distance * direction, -direction)
    assert found == pytest.approx(1 / (4 * math.pi * distance**2), rel=1e-12)


def test_a_matte_ball_fills_a_dome_by_its_solid_angle():
    # dome = (solid angle + pi sin² a · cos 0) / 2 times the luminance, 1 / (pi · area)
    found = read(round_front(0.5, Ball()), (0, 0, 0.6), TOWARDS, "dome")
    sine = 0.25 / 0.6
    solid = 2 * math.pi * (1 - math.sqrt(1 - sine**2))
    luminance = 1 / math.pi / (math.pi * 0.25)
    assert found == pytest.approx(luminance * (solid + math.pi * sine**2) / 2, rel=1e-12)


def test_horizon_through_the_middle_of_a_ball_leaves_half_of_it():
    # Lambert's integral over half a cone of half angle a beside the axis: a - sin a cos a.
    found = read(round_front(0.5, Ball()), (0, 0, 0.5), (1, 0, 0))
    a = math.asin(0.5)
    luminance = 1 / math.pi / (math.pi * 0.25)
    assert found == pytest.approx(luminance * (a - math.sin(a) * math.cos(a)), rel=1e-9)


@pytest.mark.parametrize("offset", [0.0, 0.5, 1.0])
def test_even_hollow_umbrella_reads_like_a_disk_in_its_rim(offset):
    # A matte bowl looks evenly bright wherever its inside is seen through its rim, so it is the
    # disk in its rim; its light is that of the bowl less what meets the bowl again, which leaves
    # as much as the disk would send (reciprocity).
    bowl, disk = round_front(1.0, Cap(0.3, True)), round_front(1.0, Disk())
    place = (offset, 0.0, 1.2)
    assert read(bowl, place, TOWARDS) == pytest.approx(read(disk, place, TOWARDS), rel=1e-5)


def lens_area(a, b, apart):
    """Area that two circles have in common (textbook: two segments)."""
    if apart >= a + b:
        return 0.0
    if apart <= abs(a - b):
        return math.pi * min(a, b) ** 2
    alpha = 2 * math.acos((apart**2 + a**2 - b**2) / (2 * apart * a))
    beta = 2 * math.acos((apart**2 + b**2 - a**2) / (2 * apart * b))
    return 0.5 * (a**2 * (alpha - math.sin(alpha)) + b**2 * (beta - math.sin(beta)))


@pytest.mark.parametrize("angle_deg", [2, 6, 10, 14, 18, 19.2, 20])
def test_snoot_shows_the_lens_between_two_circles(angle_deg):
    # 7 cm wide and 20 cm deep: closes at atan(7 / 20) = 19.3 degrees.
    distance, tangent = 80.0, math.tan(math.radians(angle_deg))
    place = np.array([distance * tangent, 0, distance])
    snoot, open_ = round_front(0.07, Disk(), recess_m=0.2), round_front(0.07, Disk())
    share = read(snoot, place, -place) / read(open_, place, -place)
    grown = distance / (distance - 0.2)
    expected = lens_area(0.035, 0.035 * grown, (grown - 1) * place[0]) / (math.pi * 0.035**2)
    assert share == pytest.approx(expected, rel=2e-3, abs=1e-6)


def test_snoot_leaves_its_axis_as_it_was():
    snoot, open_ = round_front(0.07, Disk(), recess_m=0.2), round_front(0.07, Disk())
    assert read(snoot, (0, 0, 1.5), TOWARDS) == pytest.approx(read(open_, (0, 0, 1.5), TOWARDS))


@pytest.mark.parametrize("angle_deg", [0, 10, 22, 30])
def test_honeycomb_passes_the_overlap_of_two_displaced_hexagons(angle_deg):
    # Points of a dense lattice counted in both openings; cells 10 mm wide, 15 mm deep.
    cells, turn = Honeycomb(0.010, 0.015), math.radians(angle_deg)
    x, y = np.meshgrid(np.linspace(-0.006, 0.006, 1201), np.linspace(-0.006, 0.006, 1201))

    def inside(x, y):
        slanted = [0.5 * x + s * math.sqrt(3) / 2 * y for s in (1, -1)]
        return np.all(np.abs([x, *slanted]) < 0.005, axis=0)

    for slope in (0.05, 0.2, 0.35, 0.5, 0.62, 0.7):
        dx, dy = slope * math.cos(turn), slope * math.sin(turn)
        both = inside(x, y) & inside(x + 0.015 * dx, y + 0.015 * dy)
        counted = both.sum() / inside(x, y).sum()
        assert cells_share(cells, np.array(dx), np.array(dy)) == pytest.approx(counted, abs=3e-3)


def test_deflector_of_a_dish_takes_its_share_out_of_the_middle():
    # Two disks: the ring's luminance all over, less half of it in the middle.
    dish = round_front(0.55, Disk(0.2, 0.5))
    found = read(dish, (0, 0, 1), TOWARDS)
    big, small = math.pi * 0.275**2, math.pi * 0.1**2
    luminance = 1 / math.pi / (big - 0.5 * small)
    expected = math.pi * luminance * (disk_on_axis(0.275, 1) - 0.5 * disk_on_axis(0.1, 1))
    assert found == pytest.approx(expected, rel=1e-5)


def test_dome_sees_the_solid_angle_of_a_disk():
    luminance = 1 / math.pi / (math.pi * 0.25)
    found = read(round_front(1.0, Disk()), (0, 0, 0.7), TOWARDS, "dome")
    half = 0.5 * (disk_solid_angle(0.5, 0.7) + math.pi * disk_on_axis(0.5, 0.7))
    assert found == pytest.approx(luminance * half, rel=1e-5)
