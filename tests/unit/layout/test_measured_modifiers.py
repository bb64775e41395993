"""A photometric file beside the kit becomes a front that shines as the file says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.emission import Disk, Matte, Rectangle
from render.emission.measured import flux, intensity, read_measured
from render.emission.output import axial_exposure
from render.errors import KitError
from render.folders import data_folder
from render.layout import place
from render.layout.placed import Layout
from render.photometry.exposure import C_FLAT, f_number
from render.photometry.formfactors import polygon_view_factor
from render.predict import direct_exposure
from render.scenefile import load_scene
from tests.unit.emission.lamp_files import cosine, lm63

SCENE = """
title = "a measured lamp"
kit = ["mine.toml"]
[light.key]
flash = "mine"
modifier = "bowl"
azimuth_deg = 0
distance_m = 1.2
[point.here]
position_m = [0, 1.2, 0]
facing = "key"
"""
KIT = """
[flash.mine]
stored_energy_ws = 100
efficacy_lm_per_ws = 40
[modifier.bowl]
kind = "measured"
measured_file = "lamps/bowl.ies"
share = 0.5
"""


def placed(folder: Path, lamp: str, more: str = "", scene: str = "") -> Layout:
    (folder / "lamps").mkdir(exist_ok=True)
    (folder / "lamps" / "bowl.ies").write_text(lamp)
    (folder / "mine.toml").write_text(KIT + more)
    (folder / "scene.toml").write_text(SCENE + scene)
    return place(load_scene(folder / "scene.toml"))


def lopsided(gamma: float, plane: float) -> float:
    return cosine(gamma, plane) ** 2 * (1 + 0.5 * np.sin(np.radians(plane)))


def test_a_cosine_file_is_a_matte_front_of_its_opening(tmp_path: Path) -> None:
    """Truth: a matte rectangle's view factor; 4000 lm·s x share 0.5 leave it. The file's steps of
    2.5 degrees are good for 0.02 %."""
    layout = placed(tmp_path, lm63(sizes=(0.3, 0.5, 0)))
    front = layout.fronts[0]
    assert (front.shape, front.width_m, front.height_m) == (Rectangle(), 0.5, 0.3)
    assert front.luminous_energy_lm_s == pytest.approx(2000)
    corners = np.array(
        [[-0.25, -0.15, 1.2], [0.25, -0.15, 1.2], [0.25, 0.15, 1.2], [-0.25, 0.15, 1.2]]
    )
    truth = 2000 / (0.5 * 0.3) * polygon_view_factor(corners, np.array([0.0, 0, 1]))
    point = front.centre_m + 1.2 * front.normal
    found = direct_exposure(layout, point[None], -front.normal[None], "flat")
    assert found.luminous_exposure_lx_s[0, 0] == pytest.approx(float(truth), rel=5e-4)
    matte = replace(front, beam=Matte())
    assert axial_exposure(front, 0.4, "flat") == pytest.approx(
        axial_exposure(matte, 0.4, "flat"), rel=5e-4
    )


def test_far_away_the_light_falls_off_as_intensity_over_distance_squared(tmp_path: Path) -> None:
    """Truth: Q · I / flux of the file / d². Planes turn clockwise for one who faces the light: 90
    is below. The opening of 2 cm is a point at 6 m."""
    planes = np.arange(0, 361, 5)
    lamp = lm63(lopsided, horizontals=planes, sizes=(-0.02, -0.02, 0))
    layout = placed(tmp_path, lamp)
    front = layout.fronts[0]
    assert front.shape == Disk()
    flux = 1e6 * 2 * np.pi / 3  # ∫ cos² over the half space; the sine adds nothing
    for gamma, plane in ((0, 0), (30, 0), (30, 90), (30, 270), (55, 200)):
        g, c = np.radians([gamma, plane])
        across = np.sin(g) * (np.cos(c) * front.right - np.sin(c) * front.up)
        way = np.cos(g) * front.normal + across
        spot = (front.centre_m + 6 * way)[None]
        found = direct_exposure(layout, spot, -way[None], "flat").luminous_exposure_lx_s[0, 0]
        assert found == pytest.approx(2000 * lopsided(gamma, plane) / flux / 36, rel=1e-3)


def test_sizes_of_the_kit_override_those_of_the_file(tmp_path: Path) -> None:
    round_one = placed(tmp_path, lm63(), "diameter_cm = 55\n").fronts[0]
    assert (round_one.shape, round_one.width_m) == (Disk(), 0.55)
    flat = placed(tmp_path, lm63(sizes=(0, 0, 0)), "size_cm = [40, 20]\n").fronts[0]
    assert (flat.shape, flat.width_m, flat.height_m) == (Rectangle(), 0.4, 0.2)


def test_light_that_a_flat_front_cannot_send_is_told(tmp_path: Path) -> None:
    """Truth: a third of what goes ahead goes back: 3/4 of 2000 lm·s are left."""

    def both(gamma: float, plane: float) -> float:
        return cosine(gamma, plane) + cosine(180 - gamma, plane) / 3

    layout = placed(tmp_path, lm63(both, np.arange(0, 181, 2.5)))
    assert layout.fronts[0].luminous_energy_lm_s == pytest.approx(1500)
    assert "25 % sideways and backwards left out" in layout.calibrations[0]


@pytest.mark.parametrize(
    ("lamp", "sentence"),
    [
        (lm63(sizes=(0, 0, 0)), r"bowl\.ies: a lit opening of 0 x 0 m"),
        (lm63(lambda g, c: cosine(180 - g, c), np.arange(90, 181, 5.0)), "no light within 90"),
        ("TILT=NONE", r"bowl\.ies: line 1: the file ends"),
    ],
)
def test_files_that_make_no_front(lamp: str, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(KitError, match=sentence):
        placed(tmp_path, lamp)


READING = """
[[reading]]
flash = "mine"
modifier = "bowl"
distance_m = 1.5
f_number = 8
"""


def test_a_reading_of_a_measured_modifier_comes_back(tmp_path: Path) -> None:
    layout = placed(tmp_path, lm63(lopsided, horizontals=np.arange(0, 361, 15)), READING)
    front = layout.fronts[0]
    point = front.centre_m + 1.5 * front.normal
    found = direct_exposure(layout, point[None], -front.normal[None], "flat")
    reading = f_number(found.luminous_exposure_lx_s[0, 0], 100, C_FLAT)
    assert reading == pytest.approx(8, rel=1e-4)


def test_a_reading_on_the_axis_of_a_ring_of_light_is_refused(tmp_path: Path) -> None:
    ring = lm63(lambda gamma, plane: 1000.0 if 30 < gamma < 60 else 0.0)
    assert placed(tmp_path, ring).fronts[0].luminous_energy_lm_s == pytest.approx(2000)
    with pytest.raises(KitError, match=r"bowl\.ies: straight ahead 0 % of the brightest"):
        placed(tmp_path, ring, READING)


def test_the_example_of_the_kit_is_what_it_says() -> None:
    """Truth: I = 1000 cos^n, half at 27.5 degrees; its flux is 2π · 1000 / (n + 1)."""
    beam = read_measured(data_folder("scenes") / "kit" / "beams" / "computed-55.ies")
    power = np.log(0.5) / np.log(np.cos(np.radians(27.5)))
    truth = 1000 * np.cos(np.radians(beam.gammas_deg)) ** power
    np.testing.assert_allclose(beam.candela[0], truth, atol=1e-4)
    assert intensity(beam, np.array([27.5]), np.zeros(1))[0] == pytest.approx(500)
    assert flux(beam) == pytest.approx(2000 * np.pi / (power + 1), rel=1e-3)
    assert (beam.width_m, beam.round) == (0.18, True)
