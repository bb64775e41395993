"""The stops map: log2 of linear light over the face, lines where whole stops are, fair colours."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import colour
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from render.layout.placed import Layout
from render.photometry.exposure import C_FLAT
from render.picture.develop import Exposure, Picture
from render.picture.stops_map import BLUR_SHARE, stops_map
from render.picture.stops_page import HIGHEST, LOWEST, coloured, name, page, write_stops
from render.picture.take import take
from render.predict import direct_exposure
from render.sitter.body import Landmark
from render.trace import Engine, FrameStore
from tests.sets import ball, front, layout, sheet
from tests.unit.trace.small import X, Y, view

AT_F8 = Exposure(100, 8.0, 1 / 125, 85)
WIDE, HIGH = 400, 120


def grey(luminance: NDArray[np.float64]) -> Picture:
    """A linear picture (h, w) without colour or noise."""
    linear = np.repeat(luminance[..., None], 3, -1).astype(np.float32)
    return Picture(linear, np.zeros(luminance.shape, np.float32), AT_F8)


def ramp(first: float, last: float) -> Picture:
    """Stops over a metered card that rise evenly from the left edge to the right one."""
    stops = first + (last - first) * (np.arange(WIDE) + 0.5) / WIDE
    return grey(np.tile(0.18 * 2.0**stops, (HIGH, 1)))


def test_lines_fall_where_log2_is_whole() -> None:
    """Truth: stop s of a ramp of 0.02 stop a pixel lies at (s - first) / 0.02.

    Light averaged over a Gaussian of deviation d is exp(k² d² / 2) brighter on a slope exp(k x):
    each line moves k d² / 2 towards the dark.
    """
    found = stops_map(ramp(-5.5, 2.5), layout(front()))
    assert found.spot is None
    assert found.blur_px == BLUR_SHARE * WIDE == 2.0
    k = math.log(2) * 8.0 / WIDE
    lines = page(found, "ramp").axes[0].lines
    where = sorted(float(np.median(line.get_xdata())) for line in lines)
    truth = [(stop + 5.5) * WIDE / 8.0 - k * found.blur_px**2 / 2 for stop in range(-5, 3)]
    np.testing.assert_allclose(where, truth, atol=0.02)
    shown = [text.get_text() for text in page(found, "ramp").axes[0].texts]
    assert sorted(shown) == sorted(name(stop) for stop in range(-5, 3))


def test_colours_are_those_of_the_legend_before_any_clipping() -> None:
    """Truth: 2.5 stops over a card is beyond the white of the look, and still told apart."""
    found = stops_map(ramp(-5.5, 2.9), layout(front()))
    assert found.stops.max() == pytest.approx(2.9, abs=0.02)
    assert np.all(np.diff(found.stops[0]) > 0)
    shown, column = (axes.images[0] for axes in page(found, "ramp").axes)
    assert column.get_extent()[2:] == [LOWEST - 0.5, HIGHEST + 0.5]
    levels = np.linspace(HIGHEST + 0.5, LOWEST - 0.5, 512)
    at_zero = np.asarray(column.get_array())[np.argmin(abs(levels)), 0]
    in_picture = np.asarray(shown.get_array())[0, np.argmin(abs(found.stops[0]))]
    np.testing.assert_allclose(in_picture, at_zero, atol=0.01)


@pytest.mark.parametrize("lacking", [None, "Protanomaly", "Deuteranomaly"])
def test_stops_are_told_apart_by_every_kind_of_colour_vision(lacking: str | None) -> None:
    """Truth: lightness rises all the way, so that the page also prints in grey.

    Colour vision that lacks a cone: Machado, Oliveira and Fernandes 2009, as in colour-science.
    Neighbouring stops are 3 units of CIE 2000 apart at least; 1 can just be seen (common practice).
    """
    shown = coloured(np.arange(LOWEST, HIGHEST + 1.0), reference=0.36)
    linear = colour.cctf_decoding(shown, function="sRGB")
    if lacking:
        linear = linear @ colour.blindness.matrix_cvd_Machado2009(lacking, 1.0).T
    space = colour.RGB_COLOURSPACES["sRGB"]
    lab = colour.XYZ_to_Lab(linear @ space.matrix_RGB_to_XYZ.T, space.whitepoint)
    assert np.all(np.diff(lab[:, 0]) > 2)
    assert np.all(colour.delta_E(lab[1:], lab[:-1], method="CIE 2000") > 3)


def cards() -> Layout:
    """Two cards side by side, 18 % and 4.5 %, lit from camera left."""
    lamp = front([0.7, -0.2, -1.0], [-0.9, 1.45, 1.3])
    shades = ((0.18,) * 3, (0.045,) * 3)
    pair = tuple(
        sheet([x, 1.2, 0], X, Y, 0.3, 0.8, name=f"card_{k}", reflectance=shade)
        for k, (x, shade) in enumerate(zip((-0.15, 0.15), shades, strict=True))
    )
    return replace(layout(lamp, sheets=pair), view=view())


def test_traced_cards_read_what_the_closed_form_says(tmp_path: Path) -> None:
    """Truth: a card of reflectance r under H lies log2(H S / (C N²)) + log2(r / 0.18) stops over
    a metered card (ISO 2720); H by the boundary integral over the front."""
    made = cards()
    with Engine() as engine:
        shot = take(
            made, AT_F8, quality=64, long_side_px=60, engine=engine, store=FrameStore(tmp_path)
        )
    found = stops_map(shot.picture, made)
    assert found.reference == 0.18
    high, wide = found.stops.shape
    for x, reflectance in ((-0.1, 0.18), (0.1, 0.045)):
        place_m = np.array([[x, 1.2, 1e-4]])
        ahead = np.array([[0.0, 0.0, 1.0]])
        light = direct_exposure(made, place_m, ahead, "flat").luminous_exposure_lx_s[0, 0]
        over = math.log2(light * 100 / (C_FLAT * 64)) + math.log2(reflectance / 0.18)
        # The lens is level with the cards' middle, two metres away.
        column = wide * (0.5 + x / 2.0 * made.view.image_m / made.view.frame_width_m)
        part = np.s_[high // 2 - 2 : high // 2 + 2, round(column) - 2 : round(column) + 2]
        error = np.sqrt(np.square(shot.picture.standard_error[part]).sum()) / 16
        light_here = float(np.mean(0.18 * 2.0 ** found.stops[part]))
        seen = math.log2(light_here / 0.18)
        assert abs(seen - over) < 4 * error / light_here / math.log(2) + 0.02


def sitting() -> Layout:
    """A ball with two cheeks, the key on camera right."""
    head = ball([0, 1.2, 0], 0.1, 3)
    marks = {}
    for side, x in (("left", 0.6), ("right", -0.6)):
        normal = np.array([x, 0.0, 0.8])
        place = [0, 1.2, 0] + 0.1 * normal
        marks[f"cheek_sitter_{side}"] = Landmark(f"cheek_sitter_{side}", place, normal, "skin")
    lamp = front([-0.7, -0.2, -1.0], [0.9, 1.45, 1.3])
    return replace(layout(lamp, body=replace(head, landmarks=marks)), view=view())


def test_the_face_is_a_spot_of_one_degree_on_the_cheek_by_the_key() -> None:
    """Truth: the cheek lies 60 mm to the right and 80 mm before a lens axis 2 m long; half a
    degree at the lens is tan(0.5°) of the image distance; what shines there is 0 stops."""
    made, (wide, high) = sitting(), (200, 250)
    assert made.view is not None
    scale = made.view.image_m / made.view.frame_width_m * wide
    radius = math.tan(math.radians(0.5)) * scale
    y, x = np.mgrid[0.5:high, 0.5:wide]
    away = np.hypot(x - (wide / 2 + 0.06 / 1.92 * scale), y - high / 2)
    light = np.where(away < radius + 2, 0.36, 0.045)
    noisy = replace(grey(light), standard_error=np.full(light.shape, 0.036, np.float32))
    found = stops_map(noisy, made)
    assert found.spot is not None
    assert found.spot.radius == pytest.approx(radius)
    assert found.reference == pytest.approx(0.36)
    assert found.stops[0, 0] == pytest.approx(-3)
    pixels = np.count_nonzero(away <= radius)
    assert found.error_stops == pytest.approx(0.1 / math.log(2) / math.sqrt(pixels), rel=1e-3)


def test_a_cheek_turned_away_or_out_of_the_frame_is_no_reference() -> None:
    """Truth: then 0 is the metered card."""
    made = sitting()
    assert made.view is not None
    picture = grey(np.full((50, 40), 0.18))
    behind = replace(made.view, position_m=np.array([0.0, 1.2, -2.0]), right=-made.view.right)
    aside = replace(made.view, position_m=made.view.position_m + [0.6, 0, 0])
    for lens in (behind, aside):
        found = stops_map(picture, replace(made, view=lens))
        assert found.spot is None
        np.testing.assert_allclose(found.stops, 0, atol=1e-6)


def test_the_page_is_a_picture_of_its_own(tmp_path: Path) -> None:
    """Truth: a picture of 400 pixels is enlarged to 900 and a legend stands beside it."""
    found = stops_map(ramp(-5.5, 2.5), layout(front()))
    title = "A long title that takes more than one line because it tells the whole set-up " * 2
    with Image.open(write_stops(tmp_path / "a.png", found, title)) as image:
        assert image.format == "PNG"
        assert image.width > 900
        assert image.height > 900 * HIGH / WIDE
