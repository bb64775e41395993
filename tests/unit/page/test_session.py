"""What a tab changes, every tab reads: light by the laws of light, mistakes as one sentence."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from render.page.pictures import Pictures
from render.report import meter
from render.scenefile import load_scene
from render.trace import FrameStore
from tests.unit.page.scenes import STOOL, client, session, written


@pytest.fixture
def browser(tmp_path: Path) -> TestClient:
    pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    return client(session(tmp_path, pictures=pictures))


def changed(browser: TestClient, keys: dict[str, Any], status: int = 200) -> Any:
    version = browser.get("/api/set").json()["version"]
    answer = browser.post("/api/change", json={"version": version, "keys": keys})
    assert answer.status_code == status, answer.text
    return answer.json()


def key_light(found: Any) -> float:
    return float(found["points"][0]["alone"][0])


def digests(found: Any) -> dict[str, str]:
    return {light["name"]: light["frame"]["digest"] for light in found["lights"]}


def test_a_small_lamp_lights_by_the_inverse_square(browser: TestClient) -> None:
    near = key_light(browser.get("/api/set").json())
    far = key_light(changed(browser, {"light.key.distance_m": 1.6}))
    # 2 log2(1.6 / 0.8) = 2 stops; a 2 cm front counts as a point to better than 0.001 stop.
    assert math.log2(near / far) == pytest.approx(2 * math.log2(1.6 / 0.8), abs=1e-3)


def test_a_lamp_that_is_off_is_ready_at_full_power(browser: TestClient) -> None:
    found = browser.get("/api/set").json()
    fill = found["lights"][1]
    assert fill["on"] is False
    # A small Lambert source of Q lm·s gives Q / (pi d²) straight ahead of it: handbook formula.
    light = found["points"][0]["alone"][1]
    assert light == pytest.approx(100 / (math.pi * 1.5**2), rel=1e-3)


def test_readings_of_the_page_are_those_of_the_meter_table(
    browser: TestClient, tmp_path: Path
) -> None:
    found = browser.get("/api/set").json()
    rows = meter(load_scene(written(tmp_path)), bounce=False).readings
    point, key = found["points"][0], found["lights"][0]
    alone = next(row for row in rows if row.lights == "key")
    shown = math.sqrt(
        point["alone"][0] * 2 ** key["power_stops"] * found["meter"]["iso_speed"]
        / point["constant_alone"]
    )  # fmt: skip
    assert shown == pytest.approx(alone.f_number, rel=1e-5)
    together = next(row for row in rows if row.lights == "all")
    light = point["together"][0] * 2 ** key["power_stops"]  # the fill is off
    assert light == pytest.approx(together.luminous_exposure_lx_s, rel=1e-5)


def test_power_and_switches_ask_for_no_new_picture(browser: TestClient) -> None:
    before = browser.get("/api/set").json()
    for keys in (
        {"light.key.power": "1/8"},
        {"light.fill.on": True},
        {"light.key.on": False},
        {"camera.iso_speed": 400},
    ):
        after = changed(browser, keys)
        assert digests(after) == digests(before)
    assert key_light(after) == pytest.approx(key_light(before), rel=1e-9)  # at full power
    assert after["camera"]["iso_speed"] == after["meter"]["iso_speed"] == 400


def test_moving_one_lamp_asks_for_one_new_picture(browser: TestClient) -> None:
    before = digests(browser.get("/api/set").json())
    after = digests(changed(browser, {"light.key.distance_m": 0.9}))
    assert [name for name in before if before[name] != after[name]] == ["key"]


def test_a_frame_is_given_by_its_own_name_only(browser: TestClient) -> None:
    digest = digests(browser.get("/api/set").json())["key"]
    for light, asked in (("key", digest), ("key", "../../secret"), ("nobody", digest)):
        assert browser.get(f"/api/frame/{light}", params={"digest": asked}).status_code == 404


def test_stops_of_a_slider_become_a_marking_on_the_dial(browser: TestClient) -> None:
    found = changed(browser, {"light.key.power_stops": -3.04})["lights"][0]
    assert found["power_shown"] == "1/8"
    assert found["power_stops"] == -3
    least = changed(browser, {"light.key.power_stops": -40})["lights"][0]
    assert least["power_stops"] == pytest.approx(least["least_stops"])
    full = changed(browser, {"light.key.power_stops": 3})["lights"][0]
    assert full["power_stops"] == 0


def test_all_lamps_off_still_stand_there(browser: TestClient) -> None:
    found = changed(browser, {"light.key.on": False, "light.fill.on": False})
    assert [light["on"] for light in found["lights"]] == [False, False]
    assert key_light(found) > 0


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"light.key.distanc_m": 1}, "did you mean distance_m?"),
        ({"light.key.distance_m": 99}, "from 0.15 to 15 [m]"),
        ({"light.key.distance_m": "1 m"}, 'found "1 m"'),
        ({"light.key.distance_m": None}, "light.key.distance_m: missing"),
        ({"light.key.power": "1/100000"}, "light.key.power"),
        ({"light.key.power_stops": True}, "stops, 0 or negative"),
        ({"light.nobody.power_stops": -1}, "key, fill"),
        ({"light.key.flash": "none-such"}, "is not in the kit"),
        ({"wanted.face.point": "nowhere"}, "no point"),
        ({"camera": 3}, "camera"),
        ({"kit": ["/etc/passwd"]}, "name files"),
        ({}, "keys: found none"),
    ],
)
def test_a_mistake_is_one_sentence_and_changes_nothing(
    browser: TestClient, keys: dict[str, Any], words: str
) -> None:
    before = browser.get("/api/set").json()
    answer = changed(browser, keys, 422)
    assert list(answer) == ["error"]
    assert words in answer["error"]
    assert "\n" not in answer["error"]
    assert browser.get("/api/set").json() == before


@pytest.mark.parametrize("body", ["", "[]", "7", '{"version": 1', "\x00", "[" * 60000])
def test_what_is_no_object_is_one_sentence(browser: TestClient, body: str) -> None:
    headers = {"Content-Type": "application/json"}
    answer = browser.post("/api/change", content=body, headers=headers)
    assert (answer.status_code, list(answer.json())) == (422, ["error"])


def test_the_later_of_two_tabs_is_told_and_nothing_is_lost(browser: TestClient) -> None:
    first = {"version": 1, "keys": {"light.key.distance_m": 0.9}}
    second = {"version": 1, "keys": {"light.key.distance_m": 1.2}}
    assert browser.post("/api/change", json=first).status_code == 200
    answer = browser.post("/api/change", json=second)
    assert answer.status_code == 409
    assert answer.json()["set"] == browser.get("/api/set").json()
    assert answer.json()["set"]["lights"][0]["placed"]["distance_m"] == 0.9
    for path in ("undo", "redo", "save", "balance"):
        assert browser.post(f"/api/{path}", json={"version": 1}).status_code == 409


def test_undo_and_redo_bring_readings_and_pictures_back(browser: TestClient) -> None:
    first = browser.get("/api/set").json()
    second = changed(browser, {"light.key.distance_m": 0.9})
    back = browser.post("/api/undo", json={"version": second["version"]}).json()
    assert (back["points"], digests(back)) == (first["points"], digests(first))
    assert (back["undo"], back["redo"], back["saved"]) == (False, True, True)
    again = browser.post("/api/redo", json={"version": back["version"]}).json()
    assert (again["points"], digests(again)) == (second["points"], digests(second))
    nothing = browser.post("/api/redo", json={"version": again["version"]})
    assert (nothing.status_code, list(nothing.json())) == (422, ["error"])


def test_save_writes_and_a_change_on_disk_is_a_conflict(
    browser: TestClient, tmp_path: Path
) -> None:
    found = changed(browser, {"light.key.distance_m": 0.9})
    assert found["saved"] is False
    asked = {"version": found["version"]}
    assert browser.post("/api/save", json=asked).json() == {"saved": True, "file": "stool.toml"}
    file = tmp_path / "stool.toml"
    assert file.read_text() == STOOL.replace("0.8 ", "0.9 ")
    assert browser.get("/api/set").json()["saved"] is True
    file.write_text(STOOL)
    answer = browser.post("/api/save", json=asked)
    assert (answer.status_code, answer.json()["disk"]) == (409, True)
    assert file.read_text() == STOOL


def test_the_whole_state_is_plain_json(browser: TestClient) -> None:
    found = json.loads(browser.get("/api/set").text, parse_constant=pytest.fail)
    assert found["room"] is None
    assert found["sitter"] is None
    assert found["bounce"] == "none"
    assert found["wanted"][0]["full"][1] == 0  # the fill is not fired for it
    assert found["lights"][0]["placed"]["around_at"] == [0, 1.2, 0]


def test_what_is_in_the_air_is_told_with_where_it_is(tmp_path: Path) -> None:
    curls = (
        '[element.long_curls]\nkind = "flakes"\ncount = 200\nsize_mm = [5, 9]\n'
        'centre_m = [0.1, 1.3, -0.2]\nspread_m = [0.6, 0.4, 0.2]\nshape = "box"\n'
    )
    told = client(session(tmp_path, STOOL + curls)).get("/api/set").json()["elements"]
    (one,) = told
    assert (one["name"], one["kind"]) == ("long curls", "flakes")
    # A box that is evenly full: its outline reaches nearly to its sides, and no farther.
    plan, side = np.array(one["plan"]), np.array(one["side"])
    assert np.all(np.abs(plan - [0.1, -0.2]).max(0) <= [0.3, 0.1])
    assert np.all(np.abs(plan - [0.1, -0.2]).max(0) > [0.27, 0.09])
    assert np.all(np.abs(side - [-0.2, 1.3]).max(0) <= [0.1, 0.2])
    assert one["middle"] == pytest.approx([0.1, 1.3, -0.2], abs=0.05)
    off = client(session(tmp_path, STOOL + curls + "on = false\n")).get("/api/set").json()
    assert off["elements"] == []
