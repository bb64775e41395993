"""Every mistake a photographer can type is one sentence with file, key, found and accepted."""

from pathlib import Path

import pytest

from render.errors import KitError, SceneError
from render.folders import scene_names
from render.scenefile import load_scene

GOOD = (Path(__file__).parents[2] / "data" / "evening.toml").read_text()


def written(folder: Path, text: str) -> Path:
    file = folder / "evening.toml"
    file.write_text(text)
    return file


MISTAKES = [
    ("distance_m = 2.0", "distance_mm = 2.0", "camera.distance_mm", "did you mean distance_m?"),
    ("iso_speed = 100", "iso = 100", "camera.iso", "iso_speed"),
    ("[light.key]", "[lights.key]", "lights", "did you mean light?"),
    ("height_m = 2.4", "height_m = 240", "room.height_m", "from 1.8 to 12 [m]"),
    ("walls = 0.72", "walls = 72", "room.walls", "from 0 to 0.95"),
    ("distance_m = 1.2", "distance_m = 0", "light.key.distance_m", "from 0.15 to 15 [m]"),
    ("distance_m = 1.2", 'distance_m = "1.2 m"', "light.key.distance_m", 'found "1.2 m"'),
    ('power = "1/8"', 'power = "one eighth"', "light.hair.power", "1/16"),
    ('power = "1/8"', 'power = "1/0"', "light.hair.power", "1/16"),
    ('shutter_s = "1/125"', 'shutter_s = "fast"', "camera.shutter_s", "1/125"),
    ('title = "Violin maker, two lights"', "", "title", "missing"),
    ("gap_m = 1.35", "", "backdrop.gap_m", "missing"),
    ("turn_deg = -12", "turn_deg = inf", "sitter.turn_deg", "-180"),
    ("focal_length_mm = 85", "focal_length_mm = true", "camera.focal_length_mm", "found true"),
    ("distance_m = 1.2", 'distance_m = "1.2"', "light.key.distance_m", 'found "1.2"'),
    ("distance_m = 1.2", 'distance_m = 1.2\non = "yes"', "light.key.on", "true or false"),
    ("distance_m = 1.2", "distance_m = 1.2\nsize_cm = [0, 60]", "light.key.size_cm", "from 1 to"),
    ("distance_m = 1.2", "distance_m = 1.2\nsize_cm = [60]", "light.key.size_cm", "found [60]"),
    ("f_number = 8\n", 'f_number = 8\ncrop = "0:5"\n', "camera.crop", '"4:5"'),
    ("f_number = 8\n", "f_number = 8\nsensor_mm = [0, 36]\n", "camera.sensor_mm", "from 1 to 300"),
    ("[light.hair]", '[light."../hair"]', "light", "letters, digits, - and _"),
    ("[room]", 'kit = ["none.toml"]\n[room]', "kit", 'no file "none.toml"'),
]


@pytest.mark.parametrize(("right", "wrong", "key", "words"), MISTAKES)
def test_a_mistake_is_one_sentence_with_file_key_and_cure(
    tmp_path: Path, right: str, wrong: str, key: str, words: str
) -> None:
    assert right in GOOD
    with pytest.raises(SceneError) as caught:
        load_scene(written(tmp_path, GOOD.replace(right, wrong, 1)))
    said = str(caught.value)
    assert said.startswith(f"evening.toml: {key}: ")
    assert words in said
    assert "\n" not in said


def test_a_reading_of_something_that_is_not_in_the_kit_is_refused(tmp_path: Path) -> None:
    """A typing error in a real reading must not fall back on typical values."""
    (tmp_path / "mine.toml").write_text(
        '[[reading]]\nflash = "monoblok-400"\nmodifier = "softbox-60x90"\n'
        "distance_m = 1.5\nf_number = 8\n"
    )
    text = GOOD.replace("[room]", 'kit = ["mine.toml"]\n[room]', 1)
    with pytest.raises(KitError, match=r'mine\.toml: reading\[0\]\.flash: found "monoblok-400"'):
        load_scene(written(tmp_path, text))


def test_an_editors_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    file = tmp_path / "evening.toml"
    file.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert load_scene(file).scene.title


def test_a_name_too_long_for_a_file_is_no_such_file() -> None:
    with pytest.raises(SceneError, match="no such file"):
        load_scene("x" * 5000)


def test_broken_toml_names_the_line(tmp_path: Path) -> None:
    with pytest.raises(SceneError, match=r"not valid TOML: .*line 1"):
        load_scene(written(tmp_path, "title = Violin"))


def test_a_missing_file_lists_the_bundled_scenes() -> None:
    with pytest.raises(SceneError, match=r"no such file .*violin-two-lights"):
        load_scene("nowhere.toml")


def test_a_binary_file_is_no_scene(tmp_path: Path) -> None:
    file = tmp_path / "look.toml"
    file.write_bytes(b"\x89PNG\xff\xfe")
    with pytest.raises(SceneError, match="not a text file"):
        load_scene(file)


@pytest.mark.parametrize("name", scene_names())
def test_bundled_scenes_load_by_name(name: str) -> None:
    assert load_scene(name).scene.title


def test_dial_markings_are_powers_of_two_and_tenths() -> None:
    """One click of a tenth-stop dial is 2^0.1; common practice, no source."""
    from render.studio.part import share_of_full

    assert share_of_full("1/16") == 1 / 16
    assert share_of_full("1/16 +0.3") == pytest.approx(2**0.3 / 16)
    assert share_of_full("1/2 -1") == pytest.approx(1 / 4)
    assert share_of_full(0.25) == 0.25


def test_unknown_kit_name_lists_the_kit(tmp_path: Path) -> None:
    from render.layout import place

    wrong = GOOD.replace("softbox-60x90", "softbox-61x90")
    with pytest.raises(
        SceneError, match=r'light\.key\.modifier: "softbox-61x90" is not in the kit'
    ):
        place(load_scene(written(tmp_path, wrong)))


def test_an_own_kit_file_overrides_and_extends(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(
        '[modifier.old-box]\nkind = "softbox"\nsize_cm = [70, 100]\nshare = 0.5\n'
    )
    text = GOOD.replace("[room]", 'kit = ["mine.toml"]\n[room]', 1)
    kit = load_scene(written(tmp_path, text)).kit
    assert kit.modifier["old-box"].share == 0.5
    assert "softbox-60x90" in kit.modifier
