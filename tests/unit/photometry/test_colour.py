"""Lamps, correction gels and white balance against published values and colour-science."""

from __future__ import annotations

import re
import warnings

import numpy as np
import pytest

from render.photometry import colour as ours
from render.photometry.gels import (
    correction_factor,
    grey_share,
    measured_share,
    most_of_correction,
    rgb_share,
)
from render.photometry.observer import DAYLIGHT, OBSERVER, WAVELENGTH_NM
from render.photometry.srgb import LUMINANCE_SHARES
from render.photometry.stops import stops
from tests.checks import CHECKS

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it asks for plotting libraries that no number needs
    import colour

EYE = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
FINE = colour.SpectralShape(360, 830, 1)  # a finer and wider sum than ours
LAMPS_K = [2856, 3200, 5000, 5500, 6500, 10000]

PLANCKIANS = [i for i in CHECKS if i.startswith("PL-")]
ILLUMINANTS = [i for i in CHECKS if i.startswith("IL-")]
SHIFTS = [i for i in CHECKS if i.startswith("MI-")]
IDEAL = [i for i in CHECKS if i.startswith("GI-")]
EFFICACIES = [i for i in CHECKS if i.startswith("LE-")]
COVERED = {*PLANCKIANS, *ILLUMINANTS, *SHIFTS, *IDEAL, *EFFICACIES}


def rows(ids: list[str]) -> list[object]:
    return [pytest.param(CHECKS[i], id=str(CHECKS[i])) for i in ids]


def temperatures(words: str) -> list[float]:
    return [float(k) for k in re.findall(r"\d{4}", words)]


def illuminant(name: str) -> np.ndarray:
    """Spectrum of an illuminant by its name; A is the Planckian of 2848 K by the c2 of 1931."""
    if name.startswith("D"):
        return ours.lamp(100.0 * float(name[1:]))
    kelvin = 2848 * 1.4388 / 1.435 if name == "A" else temperatures(name)[0]
    return ours.planck(kelvin)


@pytest.mark.parametrize("check", rows(PLANCKIANS))
def test_planckian_lies_where_it_is_published(check):
    found = ours.chromaticity(ours.tristimulus(ours.planck(temperatures(check.inputs)[0])))
    assert all(check.agrees(value, k) for k, value in enumerate(found)), (str(check), found)


@pytest.mark.parametrize("check", rows(ILLUMINANTS))
def test_illuminant_lies_where_it_is_published(check):
    found = ours.chromaticity(ours.tristimulus(illuminant(check.inputs)))
    assert all(check.agrees(value, k) for k, value in enumerate(found)), (str(check), found)


@pytest.mark.parametrize("check", rows(SHIFTS))
def test_shift_of_a_correction_gel_is_a_difference_of_mireds(check):
    lamp, goal = temperatures(check.inputs)
    assert check.agrees(ours.mired(goal) - ours.mired(lamp)), str(check)


@pytest.mark.parametrize("check", rows(IDEAL))
def test_ideal_correction_gel_takes_at_least_its_published_share(check):
    lamp, goal = temperatures(check.inputs)
    curve = ours.correction(lamp, ours.mired(goal) - ours.mired(lamp))
    seen = (WAVELENGTH_NM >= 400) & (WAVELENGTH_NM <= 700)
    through = ours.luminous_transmission(ours.planck(lamp), curve / curve[seen].max())
    assert check.agrees(through), (str(check), through)
    assert stops(1 / through) == pytest.approx(check.values[1], abs=6e-4)


@pytest.mark.parametrize("check", rows(EFFICACIES))
def test_lumens_of_a_watt_of_light(check):
    """683 lm/W at the peak of V; the table of the eye each 5 nm, the watts each 1 nm."""
    spectrum = illuminant(check.id.removeprefix("LE-"))
    nm = np.arange(380, 781)
    watts = np.interp(nm, WAVELENGTH_NM, spectrum).sum()
    inside = WAVELENGTH_NM >= 380
    lumens = 683 * 5 * (spectrum[inside] @ OBSERVER[inside, 1])
    assert check.agrees(lumens / watts), (str(check), lumens / watts)


def test_tables_are_those_of_the_standard():
    """Truth: colour-science 0.4.7, CIE 1931 observer and components of CIE daylight."""
    from colour.colorimetry import SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES as COMPONENTS

    np.testing.assert_allclose(OBSERVER, [EYE[nm] for nm in WAVELENGTH_NM], atol=6e-8)
    for k, name in enumerate(("S0", "S1", "S2")):
        truth = [COMPONENTS[name][nm] for nm in WAVELENGTH_NM]
        np.testing.assert_allclose(DAYLIGHT[:, k], truth, atol=1e-9)


@pytest.mark.parametrize("kelvin", [1500, 2000, 2934, 3200, 5500, 10000, 22312])
def test_planckian_is_that_of_an_independent_library(kelvin):
    """Truth: colour-science, sum each 1 nm over 360 to 830 nm. Ours ends at 780 nm."""
    spectrum = colour.sd_blackbody(kelvin, FINE)
    truth = spectrum.values @ EYE.copy().align(FINE).values
    found = ours.chromaticity(ours.tristimulus(ours.planck(kelvin)))
    np.testing.assert_allclose(found, truth[:2] / truth.sum(), atol=1e-5)


@pytest.mark.parametrize("name", ["D50", "D55", "D65"])
def test_flash_and_sky_are_cie_daylight(name):
    """Truth: colour-science, tabulated illuminants, four digits; chromaticity and CCT of D55."""
    truth = colour.SDS_ILLUMINANTS[name]
    found = ours.lamp(100.0 * float(name[1:]))
    np.testing.assert_allclose(100 * found, [truth[nm] for nm in WAVELENGTH_NM], atol=6e-3)
    xy = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
    kelvin, _ = colour.temperature.uv_to_CCT_Ohno2013(colour.xy_to_UCS_uv(np.array(xy)))
    ours_k = ours.correlated_temperature(ours.tristimulus(found))
    assert ours.mired(ours_k) == pytest.approx(ours.mired(kelvin), abs=0.1)


@pytest.mark.parametrize("kelvin", [2856.0, 5500.0])
@pytest.mark.parametrize("shift", [159, 109, 64, 26, -18, -35, -78, -137])
def test_gelled_light_has_the_temperature_of_the_sum_of_mireds(kelvin, shift):
    """Truth: the definition for a Planckian lamp, colour-science (Ohno 2013) for a flash."""
    lamp = ours.planck(kelvin)
    goal = ours.mired(kelvin) + shift
    found = ours.correlated_temperature(ours.tristimulus(lamp * ours.correction(kelvin, shift)))
    assert ours.mired(found) == pytest.approx(goal, abs=0.01)
    gelled = ours.tristimulus(ours.lamp(kelvin) * ours.correction(kelvin, shift))
    uv = colour.xy_to_UCS_uv(ours.chromaticity(gelled))
    truth, _ = colour.temperature.uv_to_CCT_Ohno2013(uv)
    found = ours.correlated_temperature(gelled)
    assert ours.mired(found) == pytest.approx(ours.mired(truth), abs=0.1)
    # Daylight lies beside the Planckians: sums of shifts miss by up to 11 mired.
    assert ours.mired(found) == pytest.approx(goal, abs=11)


def test_full_warm_on_a_flash_overshoots_tungsten_and_half_falls_short():
    """A "full" gel is made for 6500 K: on 5500 K it gives 2934 K, not 3200 K (checks.md 4)."""
    assert 1e6 / (ours.mired(5500) + 159) == pytest.approx(2934, abs=0.5)
    assert 1e6 / (ours.mired(6500) + 159) == pytest.approx(3200, abs=5)
    assert 1e6 / (ours.mired(5500) + 109) == pytest.approx(3439, abs=0.6)


def test_bluer_than_any_planckian_still_has_a_colour():
    """Two full cool gels on a flash: more blue than one, and no temperature."""
    once, twice = (ours.lamp(5500) * ours.correction(5500, -137 * k) for k in (1, 2))
    blue = [ours.tristimulus(s)[2] / ours.tristimulus(s)[1] for s in (once, twice)]
    assert blue[1] > 1.3 * blue[0]
    assert ours.correlated_temperature(ours.tristimulus(twice)) is None


def test_green_light_has_no_colour_temperature():
    assert ours.correlated_temperature(np.array([0.3, 1.0, 0.1])) is None


@pytest.mark.parametrize("kelvin", LAMPS_K)
@pytest.mark.parametrize("white_k", [3200, 5500, 7500])
def test_camera_shows_lamps_as_an_independent_library_adapts_them(kelvin, white_k):
    """Truth: colour-science, XYZ_to_RGB with Bradford adaptation; its sRGB matrix is rounded."""
    light, white = (ours.tristimulus(ours.lamp(k)) for k in (kelvin, white_k))
    truth = colour.XYZ_to_RGB(
        light / light[1],
        "sRGB",
        illuminant=ours.chromaticity(white),
        chromatic_adaptation_transform="Bradford",
    )
    truth = truth / (truth @ LUMINANCE_SHARES)
    np.testing.assert_allclose(ours.balanced_srgb(light, white), truth, atol=6e-4)


@pytest.mark.parametrize("kelvin", [1500, 3999, 4000, 5500, 25000])
def test_light_of_the_white_balance_is_neutral(kelvin):
    white = ours.tristimulus(ours.lamp(kelvin))
    np.testing.assert_allclose(ours.balanced_srgb(white, white), 1.0, atol=1e-12)


def test_no_lamp_is_cooler_or_bluer_than_the_tables_go():
    for kelvin in (1499, 25001):
        with pytest.raises(ValueError, match="1500 to 25000"):
            ours.lamp(kelvin)


@pytest.mark.parametrize("shift", [159, -137])
def test_luminous_transmission_on_a_tungsten_lamp(shift):
    """Truth: the same integral at 1 nm with the spectra of colour-science."""
    eye = EYE.copy().align(FINE).values[:, 1]
    bodies = {
        k: colour.sd_blackbody(k, FINE).values for k in (2856, 1e6 / (ours.mired(2856) + shift))
    }
    lamp, gelled = bodies.values()
    at_560 = FINE.wavelengths == 560
    truth = (gelled @ eye / gelled[at_560]) / (lamp @ eye / lamp[at_560])
    found = ours.luminous_transmission(ours.planck(2856), ours.correction(2856, shift))
    assert found == pytest.approx(float(truth[0]), rel=1e-5)


def test_a_gel_is_scaled_to_what_it_is_stated_to_let_through():
    """Truth: its definition, the share of luminous flux on a flash (LUMINANCE_SHARES for rgb)."""
    flash = ours.lamp(5500)
    curve = ours.correction(5500, 64) * correction_factor(64, 0.791)
    assert ours.luminous_transmission(flash, curve) == pytest.approx(0.791, abs=1e-12)
    assert rgb_share((0.9, 0.3, 0.1), 0.4) @ LUMINANCE_SHARES == pytest.approx(0.4, abs=1e-12)
    np.testing.assert_allclose(rgb_share((0.9, 0.3, 0.1), None), [0.9, 0.3, 0.1])
    measured = measured_share([400, 600, 700], [0.0, 0.5, 0.9], 0.3)
    assert ours.luminous_transmission(flash, measured) == pytest.approx(0.3, abs=1e-12)


@pytest.mark.parametrize("shift", [159, -78, -137])
def test_no_sheet_of_a_hue_lets_through_more_than_the_bound(shift):
    """Truth: the brightest in its strongest channel among sheets that cut at one or two places."""
    rng = np.random.default_rng(4)
    flash, bound = ours.lamp(5500), most_of_correction(shift)
    white = ours.tristimulus(flash)
    hue = ours.balanced_srgb(ours.tristimulus(flash * ours.correction(5500, shift)), white)
    strongest = int(np.argmax(hue))
    best = 0.0
    for low, high in rng.integers(0, 86, (4000, 2)):
        inside = (np.arange(85) >= low) & (np.arange(85) < high)
        for sheet in (inside, ~inside):
            xyz = ours.tristimulus(flash * sheet)
            best = max(best, float((ours.srgb_from_light(white) @ xyz)[strongest] / white[1]))
    assert best <= bound * hue[strongest] * (1 + 1e-9)
    assert best > 0.95 * bound * hue[strongest]


def test_density_of_three_tenths_is_one_stop():
    """Truth: T = 10^-d; trade table ND .3 .6 .9 1.2 = 1, 2, 3, 4 stops (opened: S94)."""
    for k in range(1, 5):
        assert -stops(grey_share(0.3 * k, None)) == pytest.approx(k, abs=0.02)
