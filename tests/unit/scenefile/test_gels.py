"""A gel that cannot be, and one that the kit does not have, is one sentence each."""

from pathlib import Path

import pytest

from render.errors import KitError, SceneError
from render.layout import place
from render.scenefile import load_scene

SCENE = """
title = "A lit chair"
kit = ["mine.toml"]
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
position_m = [0.0, 1.2, 1.5]
aim = "chair"
[point.chair]
position_m = [0.0, 1.2, 0.0]
facing = "key"
"""
LIT = "[light.key]\n"

GELS = [
    ("mired = 100\nrgb = [1, 0.5, 0.2]\ntransmission = 0.5", "", "by mired and by rgb"),
    ("density = 0.3\nmired = 0\ntransmission = 0.5", "", "by mired and by density"),
    ("mired = 100", ".transmission", "missing"),
    ("mired = 100\ntransmission = 1.2", ".transmission", "above 0 up to 1"),
    ("mired = 159\ntransmission = 0.95", ".transmission", "found 0.95, more than any sheet"),
    ("mired = 900\ntransmission = 0.5", ".mired", "from -250 to 400"),
    ("density = 4", ".density", "from 0 to 3"),
    ("density = 0.3\ntransmission = 0.5", ".density", "one of the two"),
    ("", "", "says nothing of its light"),
    ("rgb = [1.2, 0.5, 0.2]", ".rgb", "from 0 to 1"),
    ("rgb = [1, 0.5]", ".rgb", "three numbers"),
    ("rgb = [0, 0, 0]", ".rgb", "lets no light through"),
    ("rgb = [0, 0, 0.2]\ntransmission = 0.3", ".transmission", "let 4.16 of some light"),
    ("spectrum = [0.2, 0.4]", ".wavelengths_nm", "missing"),
    ("wavelengths_nm = [500, 600]", ".spectrum", "missing"),
    ("spectrum = [0.2, 0.4]\nwavelengths_nm = [500]", ".wavelengths_nm", "list of numbers"),
    ("spectrum = [0.2, 0.4]\nwavelengths_nm = [500, 550, 600]", ".spectrum", "2 values at 3"),
    ("spectrum = [0.2, 0.4]\nwavelengths_nm = [600, 500]", ".wavelengths_nm", "not rising"),
    ("spectrum = [0.2, 40]\nwavelengths_nm = [500, 600]", ".spectrum", "from 0 to 1"),
    ("spectrum = [0.0, 0.0]\nwavelengths_nm = [500, 600]", ".spectrum", "lets no light through"),
    ("colour = 'blue'", ".colour", "unknown key"),
]

SCENES = [
    ('gel = ["warm-haff"]', r'light.key.gel[0]: "warm-haff" is not in the kit', "warm-half"),
    ('gel = "warm-half"', "light.key.gel: found", "a list of texts"),
    ("nd = 8", "light.key.nd: found 8", "from 0 to 3"),
    ("nd = -0.3", "light.key.nd: found -0.3", "from 0 to 3"),
    ("colour_temperature_k = 55", "light.key.colour_temperature_k", "from 1500 to 25000 [K]"),
]


def written(folder: Path, kit: str, light: str = "") -> Path:
    (folder / "mine.toml").write_text(kit)
    file = folder / "chair.toml"
    file.write_text(SCENE.replace(LIT, f"{LIT}{light}\n"))
    return file


@pytest.mark.parametrize(("gel", "key", "words"), GELS)
def test_a_gel_that_cannot_be(tmp_path: Path, gel: str, key: str, words: str) -> None:
    with pytest.raises(KitError) as caught:
        load_scene(written(tmp_path, f"[gel.mine]\n{gel}\n"))
    said = str(caught.value)
    assert said.startswith(f"mine.toml: gel.mine{key}: "), said
    assert words in said
    assert "\n" not in said


@pytest.mark.parametrize(("light", "found", "words"), SCENES)
def test_a_light_that_cannot_wear_it(tmp_path: Path, light: str, found: str, words: str) -> None:
    with pytest.raises(SceneError) as caught:
        place(load_scene(written(tmp_path, "", light)))
    said = str(caught.value)
    assert said.startswith(f"chair.toml: {found}"), said
    assert words in said


def test_a_flash_that_drifts_out_of_every_colour(tmp_path: Path) -> None:
    kit = "[flash.monobloc-400]\nstored_energy_ws = 400\npower_range_stops = 6\n"
    kit += "colour_temperature_k = 24000\ncolour_drift_k_per_stop = 400\n"
    file = written(tmp_path, kit, 'power = "1/32"')
    with pytest.raises(SceneError, match=r"light\.key\.power: monobloc-400 drifts to 26000 K"):
        place(load_scene(file))


@pytest.mark.parametrize(
    "gel",
    [
        "rgb = [0.9, 0.4, 0.1]",
        "transmission = 0.5",
        "density = 0.15",
        "mired = 26\ntransmission = 0.9",
        "wavelengths_nm = [400, 500, 600, 700]\nspectrum = [0.1, 0.2, 0.8, 0.9]",
    ],
)
def test_own_gels_are_worn_like_those_of_the_kit(tmp_path: Path, gel: str) -> None:
    file = written(tmp_path, f"[gel.mine]\n{gel}\n", 'gel = ["mine", "warm-half"]')
    assert place(load_scene(file)).fronts[0].luminous_energy_lm_s > 0
