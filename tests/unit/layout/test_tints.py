"""Lights behind gels as they stand in the set: loss in their energy, hue in their colour."""

from pathlib import Path

import numpy as np
import pytest

from render.emission import Front
from render.layout import place
from render.layout.tints import lamp_temperature
from render.photometry.colour import mired
from render.photometry.srgb import LUMINANCE_SHARES
from render.scenefile import load_scene

SCENE = """
title = "A lit chair"
kit = ["mine.toml"]
[camera]
WHITE
[light.key]
flash = "old-head"
modifier = "softbox-60x90"
LIGHT
position_m = [0.0, 1.2, 1.5]
aim = "chair"
[point.chair]
position_m = [0.0, 1.2, 0.0]
"""
HEAD = "[flash.old-head]\nstored_energy_ws = 400\npower_range_stops = 7\n"


def key(folder: Path, light: str = "", head: str = "", white: str = "") -> Front:
    (folder / "mine.toml").write_text(HEAD + head)
    file = folder / "chair.toml"
    file.write_text(SCENE.replace("LIGHT", light).replace("WHITE", white))
    return place(load_scene(file)).fronts[0]


def test_gels_and_densities_take_their_stops(tmp_path: Path) -> None:
    """Published: half warm 0.498 stop, density 0.6 1.993 stops (10^-0.6)."""
    bare = key(tmp_path)
    gelled = key(tmp_path, 'gel = ["warm-half"]\nnd = 0.6')
    loss = np.log2(bare.luminous_energy_lm_s / gelled.luminous_energy_lm_s)
    assert loss == pytest.approx(0.498 + 0.6 * np.log2(10), abs=0.02)
    red, green, blue = gelled.colour
    assert red > green > blue
    assert np.dot(gelled.colour, LUMINANCE_SHARES) == pytest.approx(1, abs=1e-12)


def test_the_same_gel_twice_is_two_gels(tmp_path: Path) -> None:
    once, twice = (key(tmp_path, f"gel = {['nd-1-stop'] * k}").luminous_energy_lm_s for k in (1, 2))
    assert np.log2(once / twice) == pytest.approx(0.3 * np.log2(10))


def test_ungelled_flash_is_neutral(tmp_path: Path) -> None:
    np.testing.assert_allclose(key(tmp_path).colour, 1.0, atol=1e-12)


def test_a_light_of_stated_energy_is_neutral_unless_it_says_so(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("")
    plain = SCENE.replace('flash = "old-head"', "luminous_energy_lm_s = 300").replace("WHITE", "")
    file = tmp_path / "chair.toml"
    for light, blue in (("", 1.0), ("colour_temperature_k = 3200", 0.4)):
        file.write_text(plain.replace("LIGHT", light))
        front = place(load_scene(file)).fronts[0]
        assert front.luminous_energy_lm_s == pytest.approx(300)
        assert front.colour[2] == pytest.approx(blue, abs=0.05)


def test_voltage_controlled_head_warms_as_its_power_falls(tmp_path: Path) -> None:
    """-100 K a stop (trade: -50 to -150, from memory): 5500 K at full are 5100 K at 1/16."""
    drift = "colour_drift_k_per_stop = -100\n"
    full, low = (key(tmp_path, f'power = "{p}"', drift) for p in ("1/1", "1/16"))
    setup = load_scene(tmp_path / "chair.toml")
    assert lamp_temperature(setup, "key", setup.scene.light["key"]) == pytest.approx(5100)
    assert full.colour[2] == pytest.approx(1, abs=1e-12)
    assert low.colour[2] < 0.95 < 1.02 < low.colour[0]
    # Power is stops and nothing else: a change of colour costs no light.
    assert np.log2(full.luminous_energy_lm_s / low.luminous_energy_lm_s) == pytest.approx(4)
    bluer = key(tmp_path, 'power = "1/16"', "colour_drift_k_per_stop = 100\n")
    assert bluer.colour[2] > 1 > bluer.colour[0]
    assert mired(5100) - mired(5500) == pytest.approx(14.3, abs=0.1)


def test_camera_balanced_to_the_gelled_light_shows_it_neutral(tmp_path: Path) -> None:
    """Half warm makes 3439 K of 5500 K; a lamp of daylight is 6 mired off that sum."""
    front = key(tmp_path, 'gel = ["warm-half"]', white="white_balance_k = 3439")
    np.testing.assert_allclose(front.colour, 1.0, atol=0.06)
    cool = key(tmp_path, white="white_balance_k = 3439")
    assert cool.colour[2] > 1.5 > 1 > cool.colour[0]


def test_readings_say_what_a_light_wears(tmp_path: Path) -> None:
    key(tmp_path, 'gel = ["warm-half"]\nnd = 0.3')
    (words,) = place(load_scene(tmp_path / "chair.toml")).calibrations
    assert words.endswith("behind warm-half and nd 0.3 (-1.5 stops, 3439 K)")
