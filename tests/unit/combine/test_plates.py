"""A clean plate takes a known veil out, down to the noise, and leaves the grains."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from render.combine.black import ENDS, black_of
from render.combine.colour import brightness, codes_of, light_of
from render.combine.photo import Photo, read_photo
from render.combine.plates import measured_plate, subtracted
from render.errors import PhotoError
from render.photometry.srgb import srgb_encode
from tests.unit.combine.files import combined, flat, png, tiff

SIZE = (160, 120)  # width, height
DOWN, ACROSS = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
VEIL = (0.004 + 0.004 * ACROSS / SIZE[0])[..., None] * np.array([1.0, 0.9, 1.2])
SIGMA = 6e-4  # of a channel
GREY_SIGMA = SIGMA * np.sqrt(0.2126**2 + 0.7152**2 + 0.0722**2)  # of luminance


def shot(seed: int, more: NDArray[np.float64] | float = 0.0) -> NDArray[np.uint16]:
    """The veiled set with noise, 16 bits, as a camera would give it."""
    noise = np.random.default_rng(seed).normal(0, SIGMA, VEIL.shape)
    light = np.clip(VEIL + more + noise, 0, 1)
    return np.round(65535 * srgb_encode(light)).astype(np.uint16)


def grains() -> NDArray[np.float64]:
    """Bright and faint round grains, far over and a little over the noise."""
    light = np.zeros(VEIL.shape)
    for k, level in enumerate((0.5, 0.1, 0.02, 0.008)):
        near = (ACROSS - 30 - 32 * k) ** 2 + (DOWN - 60) ** 2 < 64
        light[near] = level
    return light


@pytest.fixture(scope="module")
def plates(tmp_path_factory: pytest.TempPathFactory) -> list[Photo]:
    folder = tmp_path_factory.mktemp("plates")
    return [read_photo(tiff(folder / f"{k}.tif", shot(k))) for k in range(4)]


@pytest.mark.parametrize("count", [1, 2, 4])
def test_noise_is_measured_from_the_plates(plates: list[Photo], count: int) -> None:
    """Truth: the noise that was put in, known to a few per cent from 19200 pixels."""
    plate = measured_plate(plates[:count])
    assert np.allclose(plate.noise, GREY_SIGMA, rtol=0.15)
    both = GREY_SIGMA * np.sqrt(1 + 1 / count)
    assert np.median(plate.scatter(brightness(plate.light))) == pytest.approx(both, rel=0.05)


@pytest.mark.parametrize("count", [1, 4])
def test_a_known_veil_goes_down_to_the_noise(
    plates: list[Photo], count: int, tmp_path: Path
) -> None:
    """Truth: the veil that was put in, codes 15 to 22. What is left of it is on average a
    thirtieth of the noise, and code 3 is not reached by one pixel in a thousand."""
    dirty = read_photo(tiff(tmp_path / "a.tif", shot(99)))
    assert black_of(dirty.linear, 3).backdrop_code > 15
    left, told = subtracted(dirty, measured_plate(plates[:count]))
    assert abs(float(brightness(left).mean())) < GREY_SIGMA / 30
    assert told.black_share > 0.95
    found = black_of(left, 3)
    assert found.clean
    assert found.backdrop_stops is None
    assert told.veil_code == pytest.approx(
        float(np.median(codes_of(brightness(VEIL.astype(np.float32))))), abs=0.2
    )


def test_grains_keep_their_light(plates: list[Photo], tmp_path: Path) -> None:
    """Truth: the grains that were put in. The faintest, 18 times the noise, loses nothing either;
    lowering the black point by the veil would take a third of it."""
    true = grains()
    element = read_photo(tiff(tmp_path / "a.tif", shot(99, true)))
    left, told = subtracted(element, measured_plate(plates))
    for level in (0.5, 0.1, 0.02, 0.008):
        there = true[..., 0] == level
        assert left[there].mean() == pytest.approx(level, rel=0.01)
    assert told.lost_share < 0.05
    assert told.below_share < 1e-3


def test_the_hem_between_black_and_kept_is_smooth(plates: list[Photo]) -> None:
    """Twice the noise is black, four times is kept whole, and it rises between without a step."""
    plate = measured_plate(plates)
    over = np.linspace(0, 6, 241)
    scatter = plate.scatter(brightness(plate.light))[:1, :1]
    light = plate.light[:1, :1] + np.asarray(over, np.float32)[:, None, None] * scatter[..., None]
    small = type(plate)(plate.light[:1, :1].repeat(241, 0), plate.level, plate.noise, plate.count)
    photo = Photo(Path("x"), light, None, None, "", 0.0, ())
    left = brightness(subtracted(photo, small)[0])[:, 0] / scatter[0, 0]
    assert np.all(left[over < 1.99] == 0)
    assert np.allclose(left[over > 4.01], over[over > 4.01], rtol=1e-3)
    assert np.diff(left).min() > -1e-4
    assert np.diff(left).max() < 0.12


def test_plates_without_noise_count_the_steps_of_their_file(tmp_path: Path) -> None:
    """A step of 8 bits is even noise of step / sqrt(12): Bennett 1948, from memory."""
    plate = measured_plate([read_photo(png(tmp_path / "a.png", flat(12, SIZE)))])
    step = light_of(13) - light_of(12)
    assert plate.noise == pytest.approx(step / np.sqrt(12), rel=1e-3)


def test_a_plate_of_another_size_is_refused(tmp_path: Path) -> None:
    png(tmp_path / "look.png", flat(50))
    png(tmp_path / "plate.png", flat(5, (8, 8)))
    with pytest.raises(PhotoError, match=r"12 x 9 pixels.*8 x 8 as plate.png has"):
        measured_plate([read_photo(tmp_path / n) for n in ("plate.png", "look.png")])
    element = {"file": "look.png", "plates": ["plate.png"]}
    with pytest.raises(PhotoError, match=r"plate.png: 8 x 8 pixels"):
        combined(tmp_path, "look.png", element)


def test_a_plate_that_was_lit_otherwise_is_named(plates: list[Photo], tmp_path: Path) -> None:
    """A flash a stop weaker leaves the backdrop darker than the plate."""
    noise = np.random.default_rng(7).normal(0, SIGMA, VEIL.shape)
    light = np.clip(0.5 * VEIL + noise, 0, 1)
    values = np.round(65535 * srgb_encode(light)).astype(np.uint16)
    weak = read_photo(tiff(tmp_path / "a.tif", values))
    assert subtracted(weak, measured_plate(plates))[1].below_share > 0.5


def test_the_black_check_counts_every_pixel_once() -> None:
    """By hand: codes 0, 2, 3, 4 and 250; the backdrop is their median, code 3."""
    codes = np.repeat([0, 2, 3, 4, 250], 20).reshape(10, 10)
    light = np.array([light_of(c) for c in codes.ravel()], np.float32).reshape(10, 10, 1)
    found = black_of(np.repeat(light, 3, -1), 3)
    assert sum(found.histogram) == 100
    assert dict(zip(ENDS, found.histogram, strict=True))[255] == 20
    assert found.over_share == pytest.approx(0.4)
    assert found.backdrop_code == pytest.approx(3, abs=1e-3)
    assert found.backdrop_stops == pytest.approx(0, abs=1e-3)
    assert not found.clean  # its rim is not


def test_grains_on_the_rim_are_no_dirt_but_a_pale_corner_is() -> None:
    """A piece of the rim half covered by grains stays black; one of code 8 does not."""
    light = np.zeros((200, 300, 3), np.float32)
    light[::2, ::5] = 0.4
    light[:9, 40:60] = 0.4
    assert black_of(light, 3).clean
    light[:60, :60] = light_of(8)
    found = black_of(light, 3)
    assert found.rim_code == pytest.approx(8, abs=1e-3)
    assert (found.backdrop_code, found.clean) == (0.0, False)


def test_the_black_target_in_stops() -> None:
    """Trade notes: code 2 to 3 lies 10 stops or more under white and 7.5 to 8 under 18 %."""
    assert np.log2(1 / light_of(3)) == pytest.approx(10.1, abs=0.05)
    assert np.log2(0.18 / light_of(3)) == pytest.approx(7.6, abs=0.05)
