"""Light adds; screen is a formula on encoded values, and differs from it by a known amount."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from render.combine.colour import codes_of, light_of
from render.combine.joining import difference, joined, lift, screened
from render.combine.photo import read_photo
from render.combine.written import write_result
from render.photometry.srgb import srgb_encode
from tests.unit.combine.files import combined, flat, png, tiff

RNG = np.random.default_rng(8)
NOISE = RNG.integers(0, 256, (40, 50, 3)).astype(np.uint8)


@pytest.mark.parametrize("way", ["add", "screen"])
def test_pure_black_drops_out_exactly(way: str, tmp_path: Path) -> None:
    """a + 0 = a and 1 - (1 - a)(1 - 0) = a: not a bit of the look changes, by definition."""
    png(tmp_path / "look.png", NOISE)
    png(tmp_path / "black.png", flat(0, (33, 71)))
    element = {"file": "black.png", "way": way, "turn_deg": 12.0, "scale": 0.7, "fade": 0.1}
    made = combined(tmp_path, "look.png", element)
    assert_array_equal(made.linear, read_photo(tmp_path / "look.png").linear)
    out = write_result(tmp_path / "out.png", made.linear, "")
    assert_array_equal(np.round(codes_of(read_photo(out).linear)), NOISE)


def test_screen_is_its_formula() -> None:
    """1 - (1 - a)(1 - b) on values 0 ... 1: encyclopaedia page on blend modes (opened)."""
    a, b = RNG.uniform(0, 1, (2, 9, 9, 3))
    linear = [np.asarray(((v + 0.055) / 1.055) ** 2.4, np.float32) for v in (a, b)]
    linear = [
        np.where(v <= 0.04045, v / 12.92, x).astype(np.float32)
        for v, x in zip((a, b), linear, strict=True)
    ]
    found = srgb_encode(screened(*linear).astype(np.float64))
    assert_allclose(found, 1 - (1 - a) * (1 - b), atol=2e-6)


# Trade notes on frames shot on black, residual table (computed there apart from this program):
# codes that a residual adds to a tone of the look.
RESIDUALS = [
    ("add", 10, (1.9, 4.4, 9.4)),
    ("add", 30, (0.8, 2.1, 4.8)),
    ("add", 118, (0.2, 0.5, 1.1)),
    ("screen", 10, (1.9, 4.8, 11.5)),
    ("screen", 30, (1.8, 4.4, 10.6)),
    ("screen", 118, (1.1, 2.7, 6.4)),
]


@pytest.mark.parametrize(("way", "tone", "rises"), RESIDUALS)
def test_a_residual_lifts_tones_as_tabled(
    way: str, tone: int, rises: tuple[float, ...], tmp_path: Path
) -> None:
    """Within half of the table's last digit."""
    png(tmp_path / "look.png", flat(tone))
    for code, rise in zip((2, 5, 12), rises, strict=True):
        png(tmp_path / "dirty.png", flat(code))
        made = combined(tmp_path, "look.png", {"file": "dirty.png", "way": way})
        assert_allclose(codes_of(made.linear) - tone, rise, atol=0.0501)


def test_two_equal_frames_are_one_stop() -> None:
    """Twice the light is one stop, by definition; screen of two whites is white."""
    grey = np.full((3, 3, 3), 0.18, np.float32)
    assert_allclose(np.log2(joined(grey, grey, "add") / grey), 1.0, atol=1e-6)
    white = np.ones((3, 3, 3), np.float32)
    assert_allclose(screened(white, white), 1.0, atol=1e-6)


def test_a_gain_of_one_stop_is_twice_the_light(tmp_path: Path) -> None:
    png(tmp_path / "look.png", flat(0))
    png(tmp_path / "element.png", flat(100))
    made = combined(tmp_path, "look.png", {"file": "element.png", "gain_stops": 1.0})
    assert_allclose(made.linear, 2 * light_of(100), rtol=1e-6)


def test_the_difference_of_the_ways_is_in_stops() -> None:
    """By hand: 118 and 118. Added 2 x 0.18116 is 0.36233; screened 1 - (137/255)² is 0.71135
    encoded, 0.46427 linear: +0.358 stop."""
    tone = np.full((4, 4, 3), light_of(118), np.float32)
    found = difference(tone, tone, 3)
    assert found.pixels == 16
    assert found.median_stops == pytest.approx(np.log2(0.46427 / 0.36233), abs=1e-3)
    nothing = difference(tone, np.zeros_like(tone), 3)
    assert (nothing.pixels, nothing.median_stops) == (0, None)


def test_order_counts_where_an_element_hides(tmp_path: Path) -> None:
    """An opaque white over a grey is white; the grey added over it is white plus grey."""
    png(tmp_path / "look.png", flat(50))
    png(tmp_path / "grey.png", flat(80))
    png(tmp_path / "white.png", flat(200))
    grey, white = {"file": "grey.png"}, {"file": "white.png", "matte": "light"}
    assert_allclose(combined(tmp_path, "look.png", grey, white).linear, light_of(200), rtol=1e-5)
    both = combined(tmp_path, "look.png", white, grey).linear
    assert_allclose(both, light_of(200) + light_of(80), rtol=1e-5)


def test_a_matte_hides_by_its_light_or_its_alpha(tmp_path: Path) -> None:
    """By hand: (1 - c) look + element; light 9 % of an opaque 18 % hides half."""
    png(tmp_path / "look.png", flat(118))
    code = float(codes_of(np.array([light_of(118) / 2], np.float32))[0])
    values = np.full((9, 12, 3), code * 257, np.uint16)
    tiff(tmp_path / "half.tif", values)
    made = combined(tmp_path, "look.png", {"file": "half.tif", "matte": "light"})
    assert_allclose(made.linear, light_of(118), rtol=1e-3)
    assert made.report.elements[0].coverage == pytest.approx(0.5, abs=1e-3)
    clear = np.dstack([flat(118), np.full((9, 12), 51, np.uint8)])
    png(tmp_path / "clear.png", clear)
    made = combined(tmp_path, "look.png", {"file": "clear.png", "matte": "alpha"})
    assert_allclose(made.linear, 0.8 * light_of(118) + 0.2 * light_of(118), rtol=1e-5)


def test_a_dense_element_is_warned_of(tmp_path: Path) -> None:
    """Over about 25 % on average: common practice, no source."""
    png(tmp_path / "look.png", flat(60, (100, 10)))
    for share, warned in ((0.2, False), (0.3, True)):
        codes = np.zeros((10, 100, 3), np.uint8)
        codes[:, : round(100 * share)] = 150
        png(tmp_path / "dense.png", codes)
        laid = combined(tmp_path, "look.png", {"file": "dense.png"}).report.elements[0]
        assert laid.coverage == pytest.approx(share, abs=1e-6)
        assert any("covers" in words for words in laid.warnings) is warned


def test_the_lift_of_dark_tones_is_counted() -> None:
    """Half of the dark pixels rise by five codes; the pale ones do not count."""
    look = np.zeros((2, 4, 3), np.float32)
    look[:, 2:] = light_of(200)
    after = look.copy()
    after[:, 0] = light_of(5)
    after[:, 2:] += 0.5
    assert lift(look, after, 30) == (pytest.approx(2.5, abs=1e-3), pytest.approx(0.5))
    assert lift(look[:, 2:], after[:, 2:], 30) is None


def test_what_is_clipped_or_outside_is_counted(tmp_path: Path) -> None:
    codes = flat(100, (10, 10))
    codes[:2] = 250
    png(tmp_path / "look.png", codes)
    made = combined(tmp_path, "look.png", {"file": "look.png"}, out="r.exr")
    report = made.report
    assert (report.clipped_before_share, report.clipped_share) == (0.0, pytest.approx(0.2))
    assert report.over_white_stops == pytest.approx(np.log2(2 * light_of(250)), abs=1e-5)
    assert report.keeps_all
    assert report.outside_share == 0.0
