"""Who lights the backdrop: parts that add up, codes of papers, words, changes in the scene file."""

import json
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.cli import main
from render.errors import OutputError
from render.layout import place
from render.plan.changes.settings import Setting, changed
from render.plan.who.cheapest import cheapest
from render.plan.who.contributors import STRAIGHT, who
from render.plan.who.families import families
from render.plan.who.goals import goals_of
from render.plan.who.taken import take
from render.plan.who.tones import code_of, range_of, word_of
from render.scenefile import Setup, load_scene
from render.studio.scene import Wish

# Two small fronts 2 m and 6 m from the middle of a paper, each 30 degrees off its normal and aimed
# at it; no room, no sitter. Height of all is 1.2 m.
PAPER = """
title = "paper in the void"
[backdrop]
gap_m = 2.0
width_m = 3.0
height_m = 2.4
colour = "NAME"
[camera]
distance_m = 1.0
height_m = 1.2
aim_height_m = 1.2
[light.key]
luminous_energy_lm_s = 4000
power = 0.25
size_cm = [2, 2]
position_m = [-1, 1.2, -0.2679492]
aim = [0, 1.2, -2.0]
[light.fill]
luminous_energy_lm_s = 1000
size_cm = [2, 2]
position_m = [3, 1.2, 3.1961524]
aim = [0, 1.2, -2.0]
[point.face]
position_m = [0.3, 1.2, -1.0]
facing = "key"
"""
# Codes of evenly lit papers at 0, -1 and -3 stops from the key; trade notes, computed there from
# rho 0.18 = code 118 (IEC 61966-2-1) without tone curve. Words: black at 15 or less, white at 235
# or more (the same notes), dark up to between 18 % paper at -1 (85) and at -2 (60).
TRADE = {
    "white-paper": ((237, "white"), (174, "mid"), (92, "mid")),
    "light-grey-paper": ((188, "mid"), (137, "mid"), (71, "dark")),
    "grey-paper": ((118, "mid"), (85, "mid"), (41, "dark")),
    "dark-grey-paper": ((85, "mid"), (60, "dark"), (27, "dark")),
    "black-paper": ((60, "dark"), (41, "dark"), (17, "dark")),
    "black-velvet": ((25, "dark"), (16, "dark"), (4, "black")),
}
CENTRE = "backdrop_centre"


def paper(tmp_path: Path, name: str = "grey-paper", **camera: float) -> Setup:
    file = tmp_path / "paper.toml"
    file.write_text(PAPER.replace("NAME", name))
    setup = load_scene(file)
    return changed(setup, [Setting(f"camera.{key}", value) for key, value in camera.items()])


def test_two_lights_at_two_and_six_metres_are_nine_to_one(tmp_path: Path) -> None:
    """Inverse square law: shares 9/10 and 1/10, log2 9 = 3.17 stops apart."""
    found, _ = who(paper(tmp_path), [CENTRE], engine=None)
    key, fill = found.points[0].parts
    assert (key.light, fill.light, key.way) == ("key", "fill", STRAIGHT)
    assert key.share == pytest.approx(0.9, abs=2e-4)
    assert key.stops_re_face - fill.stops_re_face == pytest.approx(math.log2(9), abs=2e-3)


def test_stops_from_the_face_are_those_of_the_f_numbers(tmp_path: Path) -> None:
    """A flat receptor on the paper and a dome at the face: 2 log2 of the f-numbers' ratio."""
    found, _ = who(paper(tmp_path), [CENTRE], engine=None)
    stops = 2 * math.log2(found.points[0].f_number / found.face_f_number)
    assert found.points[0].stops_re_face == pytest.approx(stops, abs=1e-9)


@pytest.mark.parametrize("name", TRADE)
def test_codes_and_words_of_papers(name: str, tmp_path: Path) -> None:
    """Truth: the trade table, one code either way."""
    metered = who(paper(tmp_path), [CENTRE], engine=None)[0].points[0].f_number
    for stops, (code, word) in zip((0, -1, -3), TRADE[name], strict=True):
        setup = paper(tmp_path, name, f_number=metered * 2 ** (-stops / 2))
        tone = who(setup, [CENTRE], engine=None)[0].points[0].tone
        assert tone is not None
        assert tone.code == pytest.approx(code, abs=1.0)
        assert tone.codes == pytest.approx((tone.code,) * 3, abs=1e-6)
        assert tone.word == word
        assert tone.clean == (code <= 3)


def test_words_end_where_the_limits_say() -> None:
    assert [word_of(code) for code in (0, 15, 16, 71, 72, 234, 235, 255)] == [
        *("black", "black", "dark", "dark", "mid", "mid", "white", "white"),
    ]
    for word, next_word in (("black", "dark"), ("dark", "mid"), ("mid", "white")):
        most = range_of(word)[1]
        assert most == range_of(next_word)[0]
        assert word_of(code_of(most * 0.999)) == word
        assert word_of(code_of(most * 1.001)) == next_word


def test_a_coloured_light_colours_the_paper(tmp_path: Path) -> None:
    """Blue gel on grey paper, the other light off: channels as the gelled front's colour."""
    settings = [Setting("light.key.gel", ("blue",)), Setting("light.fill.on", False)]
    setup = changed(paper(tmp_path), settings)
    found, taken = who(setup, [CENTRE], engine=None)
    linear = np.array(found.points[0].tone.linear)
    colour = np.array(taken.layout.fronts[0].colour)
    np.testing.assert_allclose(linear / linear[2], colour / colour[2], rtol=1e-9)


def test_camera_off_the_face_reading(tmp_path: Path) -> None:
    """A stop less on the lens and two more on the camera's speed than the meter's: +1 stop."""
    face = who(paper(tmp_path), [CENTRE], engine=None)[0].face_f_number
    setup = paper(tmp_path, f_number=face * math.sqrt(2), iso_speed=400.0)
    setup = changed(setup, [Setting("meter.iso_speed", 100.0)])
    found, _ = who(setup, [CENTRE], engine=None)
    assert found.camera_off_stops == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("over", [0.5, 6.0])
def test_a_change_gives_in_the_scene_what_it_was_listed_with(over: float, tmp_path: Path) -> None:
    """Every listed change, set in the scene and measured anew: code, power and face as listed."""
    face = who(paper(tmp_path), [CENTRE], engine=None)[0].face_f_number
    setup = paper(tmp_path, f_number=face)
    before, _ = who(setup, [CENTRE], engine=None)
    stops = before.points[0].stops_re_face - over
    wanted = {"face": Wish(point="face", f_number=face), "paper": Wish(point=CENTRE, stops=stops)}
    setup = replace(setup, scene=setup.scene.model_copy(update={"wanted": wanted}))
    found, taken = who(setup, [CENTRE], engine=None)
    (cures,) = cheapest(taken, None, engine=None)
    assert not cures.met
    assert cures.off_stops == pytest.approx(over, abs=1e-6)
    assert len(cures.cures) >= 3
    for cure in cures.cures:
        anew, _ = who(changed(setup, cure.settings), [CENTRE], engine=None)
        assert anew.points[0].tone.code == pytest.approx(cure.code, abs=1e-3)
        assert 2 * math.log2(anew.face_f_number / found.face_f_number) == pytest.approx(
            cure.face_stops, abs=1e-4
        )
        assert cure.meets == (cure.stops <= 0.1 - over)  # what a meter shows is near enough
        assert cure.stops == pytest.approx(cure.off_stops - over, abs=1e-6)
    assert [c.meets for c in cures.cures] == sorted((c.meets for c in cures.cures), reverse=True)


def test_a_paper_half_as_pale_is_a_stop_darker(tmp_path: Path) -> None:
    """Grey 0.18 to dark grey 0.09 where a stop less is wanted: -1.00 stop."""
    setup = paper(tmp_path)
    _, taken = who(setup, [CENTRE], engine=None)
    (goal,) = goals_of(taken, "dark")
    steps = [step for family in families(taken, goal, 0.5) for step in family]
    step = next(step for step in steps if step.name.startswith("dark grey paper"))
    before = who(setup, [CENTRE], engine=None)[0].points[0].tone
    after = who(changed(setup, step.settings), [CENTRE], engine=None)[0].points[0].tone
    assert math.log2(after.linear[1] / before.linear[1]) == pytest.approx(-1, abs=1e-9)


def test_nothing_is_wanted_of_a_backdrop_that_no_wish_names(tmp_path: Path) -> None:
    _, taken = who(paper(tmp_path), [CENTRE], engine=None)
    assert cheapest(taken, None, engine=None) == ()


def test_a_backdrop_dark_enough_needs_no_change(tmp_path: Path) -> None:
    _, taken = who(paper(tmp_path, f_number=90.0), [CENTRE], engine=None)
    (cures,) = cheapest(taken, "black", engine=None)
    assert cures.met
    assert cures.cures == ()


def test_white_is_told_by_its_darkest_place(tmp_path: Path) -> None:
    """White paper half a stop over the key is white (code 255), a stop under it lacks 0.9 stop.

    Code 234.5 is linear 0.829; paper of 0.85 at -1 stop 0.425: log2 is -0.965.
    """
    metered = who(paper(tmp_path), [CENTRE], engine=None)[0].points[0].f_number
    for stops, met in ((0.5, True), (-1.0, False)):
        setup = paper(tmp_path, "white-paper", f_number=metered * 2 ** (-stops / 2))
        (cures,) = cheapest(who(setup, [CENTRE], engine=None)[1], "white", engine=None)
        assert cures.met == met
    assert cures.off_stops == pytest.approx(-0.965, abs=0.01)
    assert all(cure.stops > 0 for cure in cures.cures)


def test_mistakes_are_one_sentence(tmp_path: Path) -> None:
    setup = paper(tmp_path)
    with pytest.raises(OutputError, match="POINT"):
        who(setup, ["no.where"], engine=None)
    with pytest.raises(OutputError, match=r'POINT: found "backdrop_center".*backdrop_centre\?'):
        who(setup, ["backdrop_center"], engine=None)
    _, taken = who(setup, ["face"], engine=None)
    for want in ("black", -1.0):
        with pytest.raises(OutputError, match="--want"):
            cheapest(taken, want, engine=None)


def test_settings_are_placed_as_the_scene_file_would(tmp_path: Path) -> None:
    """A flag by its keys and a grid: in the placed set they stand where the keys say."""
    guards = {"light": "key", "point": [0.0, 1.2, -2.0], "distance_m": 0.4}
    flag = {"kind": "black", "size_cm": [45, 90], "guards": guards}
    settings = [Setting("panel.flag", flag), Setting("light.fill.grid_deg", 30.0)]
    layout = place(changed(paper(tmp_path), settings))
    sheet = next(sheet for sheet in layout.sheets if sheet.kind == "panel")
    np.testing.assert_allclose(sheet.centre_m, [-0.8, 1.2, -0.6143594], atol=1e-7)
    assert layout.fronts[1].cells is not None
    assert layout.fronts[0].cells is None


def test_json_and_csv_of_the_command(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Traced in an empty room: parts add up to each place's light in JSON and in CSV."""

    def run(*words: str) -> str:
        monkeypatch.setattr(sys, "argv", ["tenthstop", "who", "empty-room", *words])
        with pytest.raises(SystemExit):
            main()
        return capsys.readouterr().out

    found = json.loads(run("chair", "back_wall", "--json"))
    assert found["wanted"] == []
    assert [point["point"] for point in found["points"]] == ["chair", "back_wall"]
    for point in found["points"]:
        parts = point["parts"]
        light = sum(part["luminous_exposure_lx_s"] for part in parts)
        assert light == pytest.approx(point["luminous_exposure_lx_s"], rel=1e-9)
        assert sum(part["share"] for part in parts) == pytest.approx(1, rel=1e-9)
        told = [part["luminous_exposure_lx_s"] for part in parts if part["way"] != "rest"]
        assert told == sorted(told, reverse=True)
    lines = run("chair", "--csv").splitlines()
    assert lines[0].startswith("point,light,way,luminous_exposure_lx_s")
    assert lines[1].startswith("chair,key,straight,")


def test_a_run_of_few_paths_agrees_with_the_meter_table(tmp_path: Path) -> None:
    """The face is the wish's reading: one run for all places holds it as the last."""
    taken = take(paper(tmp_path), [CENTRE, "face"], None, 0)
    names = [taken.layout.points[held.point].name for held in taken.held]
    assert names == [CENTRE, "face", "face"]
    assert taken.above(float(taken.light(1).sum()), 1) == pytest.approx(0.0, abs=1e-12)
