"""What gels take and which colour they leave: the kit's gels, stacks, drift and white balance."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from render.emission.tint import WHITE, tint
from render.errors import KitError
from render.folders import data_folder
from render.photometry import colour
from render.photometry.srgb import LUMINANCE_SHARES
from render.scenefile.parse import read_part
from render.studio.gel import Gel
from render.studio.kit import Kit
from tests.checks import CHECKS

KIT = read_part(data_folder("scenes") / "kit" / "gels.toml", Kit, KitError).gel
WORDS = {"CTO": "warm", "CTB": "cool"}
COVERED = {i for i in CHECKS if i.startswith("GE-")}
FLASH_K = 5500.0


def of_kit(row: str) -> Gel:
    """Our gel for a row such as "CTO half"."""
    hue, strength = CHECKS[row].inputs.split()
    return KIT[f"{WORDS[hue]}-{strength}"]


@pytest.mark.parametrize("row", sorted(COVERED), ids=str)
def test_correction_gels_lose_and_shift_as_published(row):
    """Public tables (opened; quarter warm from memory): loss within 0.02 stop of them."""
    share, loss, shift = CHECKS[row].values
    found = tint(FLASH_K, [of_kit(row)])
    assert found.transmission == pytest.approx(share, rel=1e-3)
    assert found.loss_stops == pytest.approx(loss, abs=0.02)
    assert found.colour_temperature_k == pytest.approx(1e6 / (1e6 / FLASH_K + shift), rel=1e-9)


@pytest.mark.parametrize(
    ("name", "least", "most"), [("warm-full", 2 / 3, 1.1), ("cool-full", 1.5, 2.0)]
)
def test_correction_gels_lose_what_photographers_quote(name, least, most):
    """Common practice, no source; a quarter stop either way."""
    loss = tint(FLASH_K, [KIT[name]]).loss_stops
    assert least - 0.25 <= loss <= most + 0.25


@pytest.mark.parametrize(
    ("name", "kelvin"),
    [
        ("warm-full", 2934),
        ("warm-half", 3439),
        ("warm-quarter", 4068),
        ("warm-eighth", 4812),
        ("cool-full", 22312),
        ("cool-half", 9632),
        ("cool-quarter", 6811),
        ("cool-eighth", 6104),
    ],
)
def test_what_a_flash_of_5500_k_becomes(name, kelvin):
    """checks.md 4, sums of mireds."""
    assert tint(FLASH_K, [KIT[name]]).colour_temperature_k == pytest.approx(kelvin, abs=0.6)


def test_full_warm_overshoots_tungsten_on_a_flash():
    """The surprise: it is made for 6500 K; under a tungsten balance it looks orange still."""
    full = tint(FLASH_K, [KIT["warm-full"]], white_k=3200)
    half = tint(FLASH_K, [KIT["warm-half"]], white_k=3200)
    assert full.colour_temperature_k < 3200 < half.colour_temperature_k
    assert full.colour[0] > 1 > full.colour[2]
    assert half.colour[0] < 1 < half.colour[2]


def test_correction_gel_on_a_tungsten_lamp():
    """Public tables give 0.628 for a full warm gel on tungsten, 0.554 on daylight: 0.18 stop."""
    tungsten, flash = (tint(k, [KIT["warm-full"]]).loss_stops for k in (2856.0, FLASH_K))
    assert flash - tungsten == pytest.approx(math.log2(0.628 / 0.554), abs=0.05)
    assert tint(3200.0, [KIT["cool-full"]]).colour_temperature_k == pytest.approx(5698, abs=0.6)


@pytest.mark.parametrize("name", sorted(KIT))
def test_grey_sheets_add_their_stops_to_any_gel(name):
    """T = 10^-d multiplies: exactly additive; 0.3 is one stop to 0.004."""
    alone = tint(FLASH_K, [KIT[name]])
    for stacked in (
        tint(FLASH_K, [KIT[name], KIT["nd-1-stop"]]),
        tint(FLASH_K, [KIT[name]], density=0.3),
    ):
        assert stacked.loss_stops - alone.loss_stops == pytest.approx(0.3 * math.log2(10))
        np.testing.assert_allclose(stacked.colour, alone.colour, rtol=1e-9)


def test_correction_gels_stack_to_the_sum_of_their_shifts():
    """109 + 64 = 173 mired; stops add to a tenth, for the second meets light already warm."""
    pair = [KIT["warm-half"], KIT["warm-quarter"]]
    both = tint(FLASH_K, pair)
    assert both.colour_temperature_k == pytest.approx(1e6 / (1e6 / FLASH_K + 173))
    apart = sum(tint(FLASH_K, [gel]).loss_stops for gel in pair)
    assert apart - 0.1 < both.loss_stops < apart
    # A warm and a cool one of equal shift leave a grey sheet.
    undone = tint(FLASH_K, [Gel(mired=80, transmission=0.7), Gel(mired=-80, transmission=0.6)])
    np.testing.assert_allclose(undone.colour, WHITE, atol=1e-9)
    assert undone.colour_temperature_k == pytest.approx(FLASH_K)


def test_order_of_a_stack_does_not_matter():
    gels = [KIT["warm-half"], KIT["blue"], KIT["nd-1-stop"], KIT["magenta"]]
    found = [tint(4800.0, order, white_k=6000) for order in itertools.permutations(gels)]
    for other in found[1:]:
        assert other.transmission == pytest.approx(found[0].transmission, rel=1e-12)
        np.testing.assert_allclose(other.colour, found[0].colour, rtol=1e-12)


def test_red_on_blue_leaves_next_to_nothing():
    """Losses of coloured gels do not add where the two let different light through."""
    red, blue = KIT["red"], KIT["blue"]
    apart = tint(FLASH_K, [red]).loss_stops + tint(FLASH_K, [blue]).loss_stops
    assert tint(FLASH_K, [red, blue]).loss_stops > apart - 0.5
    twice = tint(FLASH_K, [red, red]).loss_stops
    assert twice < 2 * tint(FLASH_K, [red]).loss_stops - 1  # the second finds red light only


@pytest.mark.parametrize("name", sorted(n for n in KIT if KIT[n].rgb))
def test_colour_gel_multiplies_channels_of_neutral_light(name):
    """Truth: its own three transmissions, scaled to what it lets through of a flash."""
    gel = KIT[name]
    found = tint(FLASH_K, [gel])
    assert found.transmission == pytest.approx(gel.transmission, rel=1e-9)
    scaled = np.array(gel.rgb) * gel.transmission / (np.array(gel.rgb) @ LUMINANCE_SHARES)
    np.testing.assert_allclose(found.channels, scaled, rtol=1e-9)
    low, high = gel.transmission_range
    assert low <= gel.transmission <= high


def test_colours_are_scaled_to_luminance_1():
    for lamp_k, white_k in itertools.product((1500, 3200, 5500, 12000), repeat=2):
        for gels in ([], [KIT["warm-full"]], [KIT["blue"]], [KIT["green"], KIT["cool-half"]]):
            found = tint(lamp_k, gels, white_k=white_k)
            assert np.dot(found.colour, LUMINANCE_SHARES) == pytest.approx(1, abs=1e-12)
            assert 0 < found.transmission <= 1


def test_ungelled_flash_is_neutral_and_loses_nothing():
    found = tint(FLASH_K)
    assert found.loss_stops == pytest.approx(0, abs=1e-12)
    np.testing.assert_allclose(found.colour, WHITE, atol=1e-12)


def test_candle_lies_outside_srgb_and_keeps_its_numbers():
    """A lamp of 1500 K has less than no blue in sRGB; the picture clips it, the numbers do not."""
    assert tint(1500.0).colour[2] < 0
    assert tint(1500.0, [KIT["blue"]]).colour[2] >= 0  # nothing negative for a gel to let through


def test_measured_spectrum_of_a_gel():
    """Truth: the correction gel of which the samples were taken; its own luminous share."""
    nm = np.arange(360, 785, 5)
    curve = colour.correction(FLASH_K, 109) * 0.4
    gel = Gel(
        wavelengths_nm=tuple(map(float, nm)), spectrum=tuple(map(float, np.minimum(curve, 1)))
    )
    ideal = Gel(mired=109, transmission=colour.luminous_transmission(colour.lamp(FLASH_K), curve))
    found, wanted = tint(FLASH_K, [gel]), tint(FLASH_K, [ideal])
    assert found.loss_stops == pytest.approx(wanted.loss_stops, abs=0.01)
    np.testing.assert_allclose(found.colour, wanted.colour, atol=0.01)
    shifted = 1e6 / found.colour_temperature_k - 1e6 / wanted.colour_temperature_k
    assert abs(shifted) < 11  # the correlated temperature of daylight behind it


def test_nothing_comes_through_a_stack_without_a_common_colour():
    none = tint(FLASH_K, [Gel(rgb=(1.0, 0.0, 0.0)), Gel(rgb=(0.0, 0.0, 1.0))])
    assert none.transmission == 0
    assert none.loss_stops == math.inf
