"""Real readings override the typical values, come back on the meter, and are named when wrong."""

import json
import math
import sys
from pathlib import Path

import pytest

from render.cli import main
from render.emission.output import walls_stops
from render.errors import KitError
from render.layout.calibration import readings_of
from render.layout.lamps import light_alone
from render.report import meter
from render.report.lights import lights
from render.scenefile import Setup, load_scene
from render.studio.light import Light

SCENE = """
title = "own kit"
kit = ["mine.toml"]
[light.key]
flash = "monobloc-400"
modifier = "{modifier}"
power = "{power}"
position_m = [0, 1.2, 2]
aim = [0, 1.2, 0]
{worn}
[point.there]
position_m = [0, 1.2, {z}]
facing = "key"
"""


def reading(f_number: object, modifier: str = "softbox-60x90", **keys: object) -> str:
    """A reading as a kit file says it."""
    stated = {"flash": "monobloc-400", "modifier": modifier, "power": "1/8", "distance_m": 1.5}
    lines = [f"{key} = {json.dumps(value)}" for key, value in {**stated, **keys}.items()]
    return "\n".join(["[[reading]]", *lines, f"f_number = {json.dumps(f_number)}", ""])


def written(
    folder: Path,
    kit: str,
    *,
    modifier: str = "softbox-60x90",
    power: str = "1/8",
    worn: str = "",
    distance_m: float = 1.5,
) -> Path:
    (folder / "mine.toml").write_text(kit)
    scene = SCENE.format(modifier=modifier, power=power, worn=worn, z=2 - distance_m)
    (folder / "own.toml").write_text(scene)
    return folder / "own.toml"


def shown(file: Path) -> float:
    """What the meter table says, without the room."""
    return meter(load_scene(file), bounce=False).readings[0].f_number


def typical(folder: Path, modifier: str, worn: str) -> float:
    return shown(written(folder, "", modifier=modifier, worn=worn))


SET_UPS = [
    ("softbox-60x90", {}, ""),
    ("softbox-60x90", {"diffusers": 1, "grid": "fabric-40"}, 'diffusers = 1\ngrid = "fabric-40"'),
    ("octa-120", {"gel": ["warm-half"], "nd": 0.3}, 'gel = ["warm-half"]\nnd = 0.3'),
    ("strip-30x90", {"grid_deg": 30.0}, "grid_deg = 30.0"),
    ("umbrella-through-100", {}, ""),
    ("umbrella-silver-100", {}, ""),
    ("dish-white-55", {"diffusers": 1}, "diffusers = 1"),
    ("reflector-standard", {"grid": "honeycomb-20"}, 'grid = "honeycomb-20"'),
    ("snoot", {}, ""),
    ("lantern-50", {}, ""),
    ("measured-example", {}, ""),
]


@pytest.mark.parametrize(("modifier", "keys", "worn"), SET_UPS)
def test_the_meter_shows_a_reading_again(
    tmp_path: Path, modifier: str, keys: dict[str, object], worn: str
) -> None:
    """Whatever the modifier wore: the same set-up at the same place and power reads the same."""
    read = 1.3 * typical(tmp_path, modifier, worn)
    file = written(tmp_path, reading(read, modifier, **keys), modifier=modifier, worn=worn)
    assert shown(file) == pytest.approx(read, rel=0.003)  # 0.01 stop


def test_the_meter_command_shows_a_reading_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = written(tmp_path, reading("5.6 +0.3", date="2026-10-04").replace('"2026', "2026"))
    text = (tmp_path / "mine.toml").read_text().replace('04"', "04")
    (tmp_path / "mine.toml").write_text(text)
    monkeypatch.setattr(sys, "argv", ["tenthstop", "meter", str(file), "--direct", "--json"])
    with pytest.raises(SystemExit):
        main()
    row = json.loads(capsys.readouterr().out)["readings"][0]
    assert row["shown"] == "f/5.6 +0.3"
    words = "metered on 2026-10-04, ±0.1 stop (walls may have added up to 0.3)"
    assert row["calibration"] == words


def test_a_black_card_takes_the_walls_off(tmp_path: Path) -> None:
    """Light adds: f/8 with the walls and f/4 from the walls alone leave 8² - 4² = 6.93²."""
    file = written(tmp_path, reading(8, shaded_f_number=4))
    assert shown(file) == pytest.approx(math.sqrt(48), rel=1e-3)
    assert meter(load_scene(file), bounce=False).readings[0].calibration == "metered, ±0.1 stop"


def test_what_walls_add_at_most() -> None:
    """Bounce of a white room against a soft box key at 0.8, 1, 1.5, 2 m: -3.7, -3.1, -1.9, -1.1
    stops (uniform enclosure of 63 m², reflectance 0.7; computed apart from this code)."""
    for distance, bounce in ((0.8, -3.7), (1.0, -3.1), (1.5, -1.9), (2.0, -1.1)):
        assert walls_stops(distance) == pytest.approx(math.log2(1 + 2**bounce), abs=0.03)


def test_a_reading_of_another_set_up_is_carried_over(tmp_path: Path) -> None:
    """A box read 1 stop over typical is 1 stop over typical with its grid as well."""
    worn = 'grid = "fabric-40"'
    over = math.sqrt(2) * typical(tmp_path, "softbox-60x90", "")
    gridded = typical(tmp_path, "softbox-60x90", worn)
    file = written(tmp_path, reading(over), worn=worn)
    found = meter(load_scene(file), bounce=False).readings[0]
    assert found.f_number == pytest.approx(math.sqrt(2) * gridded, rel=1e-3)
    assert found.calibration.startswith("metered in another set-up and carried over, ±0.3 stop")


def test_the_most_similar_set_up_counts(tmp_path: Path) -> None:
    """Read bare and with a grid: the grid's own reading is believed, for a gel before it too."""
    worn = 'grid = "fabric-40"'
    bare = typical(tmp_path, "softbox-60x90", "")
    gridded = typical(tmp_path, "softbox-60x90", worn)
    kit = reading(bare) + reading(2 ** (-0.4) * gridded, grid="fabric-40")
    assert shown(written(tmp_path, kit, worn=worn)) == pytest.approx(2 ** (-0.4) * gridded, 1e-3)
    behind = typical(tmp_path, "softbox-60x90", f"{worn}\nnd = 0.6")
    file = written(tmp_path, kit, worn=f"{worn}\nnd = 0.6")
    assert shown(file) == pytest.approx(2 ** (-0.4) * behind, 1e-3)
    assert shown(written(tmp_path, kit)) == pytest.approx(bare, 1e-3)


def test_several_readings_are_their_mean_in_stops(tmp_path: Path) -> None:
    """Typical light at two distances, read 0.2 stop over and 0.2 under: the mean is typical."""
    near = typical(tmp_path, "softbox-60x90", "")
    far = shown(written(tmp_path, "", distance_m=1.9))
    kit = reading(near * 2**0.1) + reading(far * 2**-0.1, distance_m=1.9)
    file = written(tmp_path, kit)
    found = meter(load_scene(file), bounce=False).readings[0]
    assert found.f_number == pytest.approx(near, rel=1e-3)
    assert found.calibration.startswith("metered, 2 readings 0.4 stop apart, ±0.2 stop")


WRONG = [
    (reading(8, power="1/512"), "reading[0].power", "less than monobloc-400 can give (from 1/64"),
    (
        reading(45),
        "reading[0].f_number",
        "found f/45 +0.0, more light than monobloc-400",
    ),
    (reading(1), "reading[0].f_number", "found f/1 +0.0, less light than monobloc-400"),
    (reading(5, shaded_f_number=5.6), "reading[0].f_number", "not more than shaded_f_number"),
    (
        reading(11, "snoot", distance_m=0.2, power=1),
        "reading[0].distance_m",
        "found 0.2, which is inside snoot (from the middle of its front, more than 0.22)",
    ),
    (reading(11, "lantern-50", distance_m=0.25), "reading[0].distance_m", "inside lantern-50"),
    (
        reading(11, "umbrella-white-100", distance_m=0.3),
        "reading[0].distance_m",
        "inside umbrella-white-100",
    ),
    (reading(8, "snoot", diffusers=1), "reading[0].diffusers", "found 1 on a snoot"),
    (reading(8, "bare-tube", grid_deg=30.0), "reading[0].grid_deg", "found on a bare"),
    (
        reading(8) + reading(11),
        "reading[1]",
        "says 1.0 stops more light than reading[0], both monobloc-400 with softbox-60x90",
    ),
    (
        reading(8) + reading(4) + reading(5.9),
        "reading[1]",
        "says 2.0 stops less light than reading[0]",
    ),
    (
        reading(5) + reading(5, nd=0.6),
        "reading[1]",
        "readings that agree within 1.5 stop",
    ),
]


@pytest.mark.parametrize(("kit", "key", "words"), WRONG)
def test_a_wrong_reading_is_named(tmp_path: Path, kit: str, key: str, words: str) -> None:
    modifier = kit.split('modifier = "')[1].split('"')[0]
    file = written(tmp_path, kit, modifier=modifier)
    with pytest.raises(KitError) as caught:
        meter(load_scene(file), bounce=False)
    assert str(caught.value).startswith(f"mine.toml: {key}: ")
    assert words in str(caught.value)
    with pytest.raises(KitError, match=r"^mine\.toml: "):
        lights([tmp_path / "mine.toml"], only="readings")


def test_pale_walls_may_explain_a_brighter_reading_from_far(tmp_path: Path) -> None:
    """In a white room a box read at 2.5 m shows 0.6 stop more than one read at 1 m (uniform
    enclosure): no contradiction. The other way round it is one."""
    near = shown(written(tmp_path, "", distance_m=1.0))
    far = shown(written(tmp_path, "", distance_m=2.5))
    kit = reading(near, distance_m=1.0) + reading(far * 2**0.3, distance_m=2.5)
    found = meter(load_scene(written(tmp_path, kit)), bounce=False).readings[0]
    assert "2 readings 0.6 stop apart, ±0.3 stop (walls may" in found.calibration
    kit = reading(near * 2**0.3, distance_m=1.0) + reading(far, distance_m=2.5)
    with pytest.raises(KitError, match=r"reading\[1\]: says 0\.6 stops less"):
        meter(load_scene(written(tmp_path, kit)), bounce=False)


def test_contradicting_readings_of_two_files_name_both(tmp_path: Path) -> None:
    file = written(tmp_path, reading(8))
    (tmp_path / "new.toml").write_text(reading(5.6))
    file.write_text(file.read_text().replace('["mine.toml"]', '["mine.toml", "new.toml"]'))
    with pytest.raises(KitError, match=r"^new\.toml: reading\[0\]: .* reading\[0\] of mine\.toml"):
        meter(load_scene(file), bounce=False)


def test_no_reading_asks_for_more_than_eighty_lumens_a_watt(tmp_path: Path) -> None:
    """The most that is accepted is the light of 80 lm/(W·s), all of it through the front."""
    file = written(tmp_path, reading(45))
    with pytest.raises(KitError) as caught:
        meter(load_scene(file), bounce=False)
    most = caught.value.accepted.split(" to ")[1].split(" at ")[0]
    setup = load_scene(written(tmp_path, ""))
    front, output = light_alone(setup, Light(flash="monobloc-400", modifier="softbox-60x90"))
    assert output.luminous_energy_lm_s == pytest.approx(400 * 35 * 0.4)
    over = 80 / 35 / 0.4
    allowed = math.sqrt(over) * shown(setup.file)
    mark, tenths = most.removeprefix("f/").split(" +")
    assert 2 * math.log2(allowed / float(mark)) == pytest.approx(float(tenths), abs=0.1)
    assert front.luminous_energy_lm_s == output.luminous_energy_lm_s


def test_the_list_shows_readings_beside_what_was_to_be_expected(tmp_path: Path) -> None:
    near = typical(tmp_path, "softbox-60x90", "")
    file = tmp_path / "mine.toml"
    file.write_text(reading(near * math.sqrt(2)) + reading(near, "octa-90", shaded_f_number=2))
    found = lights([file], only="readings").readings
    assert [row.key for row in found] == ["reading[0]", "reading[1]"]
    assert found[0].difference_stops == pytest.approx(1, abs=0.01)
    assert found[0].typical_f_number == pytest.approx(near, rel=1e-3)
    assert found[0].walls_stops == pytest.approx(0.34, abs=0.02)
    assert found[1].walls_stops == 0


def test_a_setup_without_places_names_the_scene_file(tmp_path: Path) -> None:
    setup = load_scene(written(tmp_path, reading(8) + reading(16)))
    bare = Setup(setup.file, setup.scene, setup.kit)
    with pytest.raises(KitError, match=r"^own\.toml: reading\[1\]"):
        readings_of(bare, "monobloc-400", "softbox-60x90")
