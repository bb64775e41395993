"""Exposure and files: an 18 % card at the metered f-number is sRGB 118, and stays so on disk."""

import io
from dataclasses import replace
from pathlib import Path

import imageio.v3 as iio
import numpy as np
import pytest
from PIL import Image, ImageCms

from render.errors import OutputError
from render.layout import place
from render.photometry.exposure import luminous_exposure_for
from render.picture.develop import Exposure, Picture, codes, mix
from render.picture.files import write_exr, write_png, write_tiff
from render.scenefile import load_scene
from render.trace import LightFrame

AT_F8 = Exposure(100, 8.0, 1 / 125, 85)


@pytest.fixture(scope="module")
def layout():
    return place(load_scene("empty-room"))


def frame(name: str, luminance_time: float, variance: float = 0.0) -> LightFrame:
    mean = np.full((4, 4, 3), luminance_time, np.float32)
    return LightFrame(name, mean, np.full((4, 4), variance, np.float32), 16)


def test_grey_card_at_the_metered_f_number_is_code_118(layout) -> None:
    """0.18 encodes to 117.65; IEC 61966-2-1, checks_values.csv SR-0.18 (opened)."""
    card = 0.18 / np.pi * luminous_exposure_for(8, 100) / layout.fronts[0].luminous_energy_lm_s
    picture = mix({"key": frame("key", card)}, layout, AT_F8)
    np.testing.assert_allclose(picture.linear, 0.18, rtol=1e-6)
    assert np.all(np.round(255 * codes(picture.linear)) == 118)


def test_the_card_is_code_118_for_a_meter_of_another_constant(layout) -> None:
    """The same truth with C = 330 lx·s, inside the range of ISO 2720."""
    light = luminous_exposure_for(8, 100, 330)
    card = 0.18 / np.pi * light / layout.fronts[0].luminous_energy_lm_s
    exposure = Exposure(100, 8.0, 1 / 125, 85, c_flat=330)
    picture = mix({"key": frame("key", card)}, layout, exposure)
    np.testing.assert_allclose(picture.linear, 0.18, rtol=1e-6)


def test_one_stop_more_iso_is_one_stop_brighter(layout) -> None:
    """f/8 against f/5.6 or ISO 100 against 200 is one stop; common practice, no source."""
    frames = {"key": frame("key", 1e-3)}
    base = mix(frames, layout, AT_F8).linear
    np.testing.assert_allclose(mix(frames, layout, Exposure(200, 8, 1, 85)).linear, 2 * base)
    wider = mix(frames, layout, Exposure(100, 8 / np.sqrt(2), 1, 85)).linear
    np.testing.assert_allclose(wider, 2 * base, rtol=1e-6)


def test_lights_add_and_their_variances_with_the_square_of_the_gain(layout) -> None:
    frames = {"key": frame("key", 1e-3, 4e-8), "fill": frame("fill", 2e-3, 9e-8)}
    both = mix(frames, layout, AT_F8)
    alone = [mix(frames, layout, AT_F8, (name,)) for name in frames]
    np.testing.assert_allclose(both.linear, alone[0].linear + alone[1].linear, rtol=1e-6)
    squares = alone[0].standard_error ** 2 + alone[1].standard_error ** 2
    np.testing.assert_allclose(both.standard_error**2, squares, rtol=1e-5)


@pytest.fixture
def ramp() -> Picture:
    linear = np.linspace(0, 1.2, 64, dtype=np.float32).reshape(8, 8, 1).repeat(3, 2)
    return Picture(linear, np.zeros((8, 8), np.float32), AT_F8)


def test_png_carries_profile_and_exposure(tmp_path: Path, ramp: Picture) -> None:
    with Image.open(write_png(tmp_path / "look.png", ramp, "Ramp")) as image:
        image.load()
    exif = image.getexif().get_ifd(0x8769)
    assert float(exif[0x829D]) == 8.0
    assert exif[0x8827] == 100
    assert float(exif[0x829A]) == pytest.approx(1 / 125)
    profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    np.testing.assert_array_equal(np.asarray(image), np.round(255 * codes(ramp.linear)))


def test_tiff_keeps_16_bits(tmp_path: Path, ramp: Picture) -> None:
    file = write_tiff(tmp_path / "look.tif", ramp, "Ramp")
    pixels = iio.imread(file, plugin="tifffile")
    assert pixels.dtype == np.uint16
    np.testing.assert_array_equal(pixels, np.round(65535 * codes(ramp.linear)))
    with Image.open(file) as image:
        assert "f/8, ISO 100" in image.tag_v2[270]


def test_exr_keeps_light_above_white(tmp_path: Path, ramp: Picture) -> None:
    import OpenEXR

    with OpenEXR.File(str(write_exr(tmp_path / "look.exr", ramp, "Ramp"))) as file:
        np.testing.assert_array_equal(file.channels()["RGB"].pixels, ramp.linear)
        header = dict(file.header())
    assert header["aperture"] == 8.0
    assert header["isoSpeed"] == 100.0
    assert header["expTime"] == pytest.approx(1 / 125)


def test_nothing_half_written_is_left(tmp_path: Path, ramp: Picture) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        write_png(tmp_path / "no" / "look.png", ramp, "Ramp")
    assert list(tmp_path.iterdir()) == []


def test_a_gelled_light_adds_in_its_colour(layout) -> None:
    """Per channel: power x colour x frame; its luminance as sure in proportion as in white."""
    lamps = {f.name: f for f in layout.fronts}
    amber = (1.9, 0.8137, 0.3258)
    coloured = replace(layout, fronts=(replace(lamps["key"], colour=amber), lamps["fill"]))
    frames = {"key": frame("key", 1e-3, 4e-8), "fill": frame("fill", 2e-3, 9e-8)}
    white = {name: mix(frames, layout, AT_F8, (name,)) for name in frames}
    both = mix(frames, coloured, AT_F8)
    truth = white["key"].linear * np.float32(amber) + white["fill"].linear
    np.testing.assert_allclose(both.linear, truth, rtol=1e-5)
    alone = mix(frames, coloured, AT_F8, ("key",))
    share = alone.standard_error / (alone.linear @ [0.2126, 0.7152, 0.0722])
    np.testing.assert_allclose(share, 0.2, rtol=1e-4)


def test_a_colour_outside_srgb_is_clipped_in_the_picture_only(layout) -> None:
    lamp = next(f for f in layout.fronts if f.name == "key")
    made = replace(layout, fronts=(replace(lamp, colour=(3.2, 0.46, -0.05)),))
    picture = mix({"key": frame("key", 1e-4)}, made, AT_F8)
    assert np.all(picture.linear[..., 2] < 0)
    assert np.all(codes(picture.linear)[..., 2] == 0)
