"""Formulas against published values, each row by its source."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from render.photometry import catalogue as cat
from render.photometry import enclosure, exposure, formfactors, fresnel, penumbra
from render.photometry.receptors import dome_response
from render.photometry.srgb import srgb_decode, srgb_encode
from render.photometry.stops import FIRST_MARK, MARKS, lighting_ratio, ratio, show_f_number, stops
from tests.checks import CHECKS

PI = math.pi
AHEAD = np.array([0.0, 0.0, 1.0])


def rectangle(width: float, height: float, distance: float) -> np.ndarray:
    """Corners of a rectangle straight ahead, seen from the receptor."""
    x, y = width / 2, height / 2
    return np.array([[-x, -y, distance], [x, -y, distance], [x, y, distance], [-x, y, distance]])


def mark_gap(k: int) -> float:
    """Stops from the exact whole stop k to its engraved mark."""
    return float(exposure.aperture_value(float(MARKS[k - FIRST_MARK]))) - k


def over_estimate(view_factor: float, width: float, height: float, distance: float) -> float:
    """By how much inverse square is too bright [%]."""
    return 100 * (width * height / (PI * distance**2) / view_factor - 1)


def soft_box(width: float, height: float, d: float) -> tuple[float, float]:
    """View factor of a soft box on axis, and its stops against inverse square."""
    f = float(formfactors.polygon_view_factor(rectangle(width, height, d), AHEAD))
    return f, float(stops(f / (width * height / (PI * d * d))))


def bounce(rho: float) -> tuple[float, float]:
    """Mean bounce over mean direct light, and total over direct [stops], any closed room."""
    direct, back = enclosure.mean_direct(1000.0, 50.0), enclosure.all_bounces(1000.0, 50.0, rho)
    return back / direct, float(stops((direct + back) / direct))


def cube_room(rho: float) -> float:
    """Mean light in a 4 m cube with 10000 lm, direct and bounced."""
    return enclosure.mean_direct(1e4, 96.0) + enclosure.all_bounces(1e4, 96.0, rho)


def whole_sphere_on_dome() -> float:
    """Response of a dome to a sphere of luminance 1, integrated over all directions."""
    cosine, weight = np.polynomial.legendre.leggauss(8)
    return float(2 * PI * np.sum(weight * dome_response(cosine)))


def card_on_sensor(reflectance: float) -> float:
    """Sensor exposure of a card metered incident, f/8 at ISO 100, q 0.65."""
    light = reflectance * exposure.luminous_exposure_for(8.0, 100) / PI
    return exposure.focal_exposure(light, 8.0, 0.65)


def mirrored(row: str) -> float:
    """Fresnel reflection for a row's index and, where it names one, angle [deg]."""
    index, _, angle = row.removeprefix("FR-").partition("-")
    return float(fresnel.reflected(math.cos(math.radians(float(angle or 0))), float(index)))


def solid_angle_both_ways() -> float:
    """The rectangle's textbook formula, which the sum of two triangles has to match."""
    triangles = float(formfactors.polygon_solid_angle(rectangle(0.6, 0.9, 1)))
    formula = formfactors.rectangle_solid_angle(0.6, 0.9, 1)
    assert triangles == pytest.approx(formula, rel=1e-13)
    return formula


SINGLE: dict[str, Callable[[], float]] = {
    "EX-01": lambda: exposure.aperture_value(8.0),
    "EX-02": lambda: exposure.time_value(1 / 125),
    "EX-03": lambda: exposure.speed_value(100.0),
    "EX-04": lambda: exposure.exposure_value(8.0, 1 / 125),
    "EX-05": lambda: exposure.incident_illuminance(8.0, 1 / 125, 100),
    "EX-06": lambda: exposure.reflected_luminance(8.0, 1 / 125, 100),
    **{
        f"EX-07-{c}": lambda c=c: exposure.luminous_exposure_for(8.0, 100, c)
        for c in (240, 250, 320, 330, 340)
    },
    "EX-11": lambda: stops(exposure.C_DOME / exposure.C_FLAT),
    "EX-12": lambda: stops(320 / exposure.C_FLAT),
    "EX-13": lambda: stops(14 / exposure.K_REFLECTED),
    "EX-14": exposure.implied_reflectance,
    "EX-15": lambda: exposure.intensity_time(40.0, 100),
    "EX-16": lambda: exposure.guide_number(640.0, 100),
    "EX-17": lambda: exposure.feet(40.0),
    "EX-18": lambda: exposure.add_f_numbers(8.0, 4 * math.sqrt(2)),
    **{
        f"EX-19-{n}": lambda n=n: (
            exposure.aperture_value(exposure.f_number(n * 100.0, 100))
            - exposure.aperture_value(exposure.f_number(100.0, 100))
        )
        for n in (2, 3, 4, 8)
    },
    **{f"EX-20-{k}": lambda k=k: math.sqrt(ratio(float(k))) for k in range(13)},
    "EX-21": lambda: min(mark_gap(7), mark_gap(9)),
    "EX-22": lambda: 8 * math.sqrt(ratio(0.3)),
    "EX-23": lambda: 4 * math.sqrt(2) * math.sqrt(ratio(0.5)),
    "EX-24": lambda: exposure.saturation_exposure(100.0),
    "EX-25": lambda: exposure.sos_exposure(100.0),
    "EX-26": lambda: 255 * srgb_encode(0.18),
    "EX-27": exposure.q_factor,
    "EX-30": lambda: card_on_sensor(0.18),
    "EX-31": lambda: exposure.focal_exposure(
        exposure.reflected_luminance(8.0, 1.0, 100), 8.0, 0.65
    ),
    **{
        i: lambda i=i: 255 * srgb_encode(float(i.removeprefix("SR-")))
        for i in CHECKS
        if i.startswith("SR-")
    },
    **{
        i: lambda i=i: srgb_decode(int(i.removeprefix("SRI-")) / 255)
        for i in CHECKS
        if i.startswith("SRI-")
    },
    **{
        i: lambda i=i: lighting_ratio(ratio(float(i.removeprefix("LR-"))), 1.0)
        for i in CHECKS
        if i.startswith("LR-")
    },
    **{i: lambda i=i: stops(float(i.removeprefix("LRS-"))) for i in CHECKS if i.startswith("LRS-")},
    "AS-01": lambda: cat.disk_on_axis(0.5, 1),
    "AS-02": lambda: cat.disk_on_axis(0.5, 1, math.radians(30)),
    "AS-03": lambda: cat.disk_parallel(0.5, 1, 0.75),
    "AS-04": lambda: cat.disk_upright(0.5, 1, 1),
    "AS-05": lambda: cat.rectangle_from_corner(0.6, 0.9, 1),
    "AS-06": lambda: cat.rectangle_on_axis(0.6, 0.9, 1),
    "AS-07": lambda: cat.rectangle_standing(0.6, 0.9, 1),
    "AS-10": solid_angle_both_ways,
    "AS-11": lambda: float(
        formfactors.triangle_solid_angle(*np.array([[1.0, 0, 1], [0, 1, 1], [0, 0, 1]]))
    ),
    "AS-12": lambda: 0.5 * (cat.disk_solid_angle(0.5, 1) / PI + cat.disk_on_axis(0.5, 1)),
    "AS-13": lambda: float(formfactors.polygon_dome_response(rectangle(0.6, 0.9, 1), AHEAD) / PI),
    "AS-15": lambda: formfactors.strip_view_factor(0.3, 1),
    **{
        i: lambda i=i: dome_response(math.cos(math.radians(float(i.removeprefix("DR-")))))
        for i in CHECKS
        if i.startswith("DR-") and i != "DR-S"
    },
    "DR-S": whole_sphere_on_dome,
    **{
        f"FT-D{k}": lambda k=k: 100 * (0.25 / k**2 / cat.disk_on_axis(0.5, k) - 1)
        for k in (1, 2, 3, 5, 10)
    },
    **{
        f"FT-S{k}": lambda k=k: over_estimate(cat.rectangle_on_axis(1, 1, k), 1, 1, k)
        for k in (1, 2, 3, 5, 10)
    },
    "IR-01": lambda: cat.opposed_rectangles(3, 4, 2.4),
    "IR-03": lambda: cat.opposed_rectangles(1, 1, 1),
    "IR-04": lambda: cat.joined_rectangles(1, 1, 1),
    "IR-05": lambda: cat.coaxial_disks(0.5, 0.3, 1),
    **{f"IR-C{rho}": lambda rho=rho: cube_room(rho) for rho in (0.2, 0.5, 0.8)},
    **{i: lambda i=i: mirrored(i) for i in CHECKS if i.startswith("FR-")},
    "PN-1": lambda: penumbra.penumbra_width(0.6, 1.4, 0.1),
}

SEVERAL: dict[str, Callable[[], tuple[float, float]]] = {
    **{
        f"SB-.6x.9@{d:g}".replace("@0.", "@."): lambda d=d: soft_box(0.6, 0.9, d)
        for d in (0.6, 0.9, 1.2, 1.5, 2, 3)
    },
    "SB-.3x1.2@2": lambda: soft_box(0.3, 1.2, 2),
    **{f"IR-E{rho}": lambda rho=rho: bounce(rho) for rho in (0.2, 0.5, 0.8, 0.9)},
    **{
        f"FD-{n}": lambda n=n: (fresnel.diffuse_external(n), fresnel.diffuse_internal(n))
        for n in (1.4, 1.5, 1.55)
    },
    "IR-P": lambda: enclosure.between_two_planes(1, 0.5, 0.8)[::-1],
}

RANGES = {
    "EX-08": (exposure.C_FLAT,),
    "EX-09": (exposure.C_DOME,),
    "EX-10": (exposure.K_REFLECTED,),
}
MARK_ROWS = [i for i in CHECKS if i.startswith("EX-20-")]
PRINTED_RATIOS = [i for i in CHECKS if i.startswith("LRM-")]

COVERED = {*SINGLE, *SEVERAL, *RANGES, *PRINTED_RATIOS, "FT-I"}


def named(ids: object) -> list[object]:
    """Rows as parameters whose test ids tell source and sureness."""
    return [pytest.param(CHECKS[i], id=str(CHECKS[i])) for i in ids]


@pytest.mark.parametrize("check", named(SINGLE))
def test_formula_gives_the_published_value(check):
    found = SINGLE[check.id]()
    assert check.agrees(found), f"{check}: {check.expected} expected, found {found}"


@pytest.mark.parametrize("check", named(SEVERAL))
def test_formula_gives_both_published_values(check):
    for place, found in enumerate(SEVERAL[check.id]()):
        assert check.agrees(found, place), f"{check}: {check.expected} expected, found {found}"


@pytest.mark.parametrize("check", named(RANGES))
def test_meter_constant_lies_in_the_standard_range_and_is_a_usual_one(check):
    low, high, *usual = check.values
    for constant in RANGES[check.id]:
        assert low <= constant <= high, str(check)
        assert constant in usual, str(check)


@pytest.mark.parametrize("check", named(MARK_ROWS))
def test_exact_whole_stop_is_shown_by_its_engraved_mark(check):
    nominal = check.source.rsplit(" ", 1)[1]
    assert show_f_number(check.values[0]) == f"f/{nominal} +0.0", str(check)


@pytest.mark.parametrize(("row", "shown"), [("EX-22", "f/8 +0.3"), ("EX-23", "f/5.6 +0.5")])
def test_meter_shows_tenths_of_a_stop_not_decimals_of_the_f_number(row, shown):
    assert show_f_number(CHECKS[row].values[0]) == shown, str(CHECKS[row])


@pytest.mark.parametrize("check", named(PRINTED_RATIOS))
def test_printed_table_of_a_flash_meter(check):
    difference = float(check.inputs)
    printed = check.values[0]
    assert abs(stops(printed) - difference) <= 0.05, str(check)


def test_five_times_rule_holds_for_the_largest_dimension():
    # IES definition 9.1.1, opened: within 1 % at five times the largest dimension as viewed.
    disk = 100 * (0.25 / 25 / cat.disk_on_axis(0.5, 5) - 1)
    diagonal = 5 * math.sqrt(2)
    square = over_estimate(cat.rectangle_on_axis(1, 1, diagonal), 1, 1, diagonal)
    assert disk == pytest.approx(1.0, abs=1e-9)
    assert square < 1.0
    # Five sides of a square are not five times its largest dimension.
    assert over_estimate(cat.rectangle_on_axis(1, 1, 5), 1, 1, 5) > 1.0
