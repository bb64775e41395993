"""Two rendered light frames added in linear light are the frame of both; screened they are not."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.layout import Layout, place
from render.photometry.srgb import luminance
from render.picture.files import write_exr, write_tiff
from render.picture.take import exposure_of, take
from render.scenefile import load_scene
from render.trace import Engine, FrameStore
from tests.unit.combine.files import combined

PAPER = """
title = "a paper in the void"
[camera]
distance_m = 2.0
height_m = 1.2
f_number = 11
[light.key]
luminous_energy_lm_s = 900
size_cm = [60, 60]
position_m = [0, 2.2, 1.5]
aim = "eyes"
[panel.paper]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
size_cm = [300, 300]
reflectance = 0.3
[point.chair]
position_m = [0, 1.2, 0.2]
"""
SIZE_PX, SAMPLES = 48, 64


def halves(whole: Layout) -> Layout:
    """The same set with its lamp cut down the middle into two lamps."""
    lamp = whole.fronts[0]
    half = 0.25 * lamp.width_m * lamp.right
    cut = {"width_m": lamp.width_m / 2, "luminous_energy_lm_s": lamp.luminous_energy_lm_s / 2}
    sides = (("port", -1), ("starboard", 1))
    made = (replace(lamp, name=n, centre_m=lamp.centre_m + s * half, **cut) for n, s in sides)
    return replace(whole, fronts=tuple(made))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, engine: Engine) -> Path:
    """The frame of the whole lamp, and of either half alone, each traced by itself."""
    where = tmp_path_factory.mktemp("halves")
    file = where / "paper.toml"
    file.write_text(PAPER)
    setup = load_scene(file)
    whole, exposure = place(setup), exposure_of(setup)
    kept = FrameStore(where / "frames")
    for layout in (whole, halves(whole)):
        look = take(
            layout, exposure, quality=SAMPLES, long_side_px=SIZE_PX, engine=engine, store=kept
        )
        for name in look.frames:
            write_exr(where / f"{name}.exr", look.one_light(name), name)
            write_tiff(where / f"{name}.tif", look.one_light(name), name)
    return where


@pytest.mark.parametrize("kind", ["exr", "tif"])
def test_added_halves_are_the_whole_lamp_and_screened_ones_are_not(folder: Path, kind: str) -> None:
    """Truth: a lamp is its two halves. Errors by the scatter of the pixels' ratio, whose mean is
    0 stops; screen is off by what its formula says for two like tones."""
    whole = combined(folder, f"key.{kind}", {"file": f"key.{kind}", "gain_stops": -20.0})
    light = luminance(whole.linear.astype(float)) / (1 + 2**-20)
    found = {}
    for way in ("add", "screen"):
        element = {"file": f"starboard.{kind}", "way": way}
        made = combined(folder, f"port.{kind}", element)
        stops = np.log2(luminance(made.linear.astype(float)) / light)
        found[way] = (stops.mean(), stops.std() / np.sqrt(stops.size))
        told = made.report.elements[0].screen.median_stops
    mean, error = found["add"]
    assert error < 0.003
    assert abs(mean) < 4 * error + 0.002
    assert found["screen"][0] > 0.2
    assert told == pytest.approx(found["screen"][0], abs=0.03)
