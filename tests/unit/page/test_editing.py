"""What a hand does on the page: drag, choose, add, take away; one undo step each."""

import math
import threading
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from render.page.trials import OvertakenError, Trials
from tests.unit.page.scenes import STOOL, client, session

ROOM = "\n[room]\nwidth_m = 3\ndepth_m = 4\nheight_m = 2.5\n"
PANEL = """
[panel.board]
size_cm = [60, 90]
azimuth_deg = 60
distance_m = 0.7

[panel.flag]
kind = "black"
size_cm = [20, 20]
guards = { light = "key", point = "camera", distance_m = 0.4 }
"""


@pytest.fixture
def browser(tmp_path: Path) -> TestClient:
    return client(session(tmp_path, STOOL + ROOM + PANEL))


def posted(browser: TestClient, path: str, status: int = 200, **said: Any) -> Any:
    version = browser.get("/api/set").json()["version"]
    answer = browser.post(f"/api/{path}", json={"version": version, **said})
    assert answer.status_code == status, answer.text
    return answer.json()


def test_a_try_is_the_change_that_it_stands_for_and_takes_nothing(browser: TestClient) -> None:
    before = browser.get("/api/set").json()
    keys = {"light.key.distance_m": 1.1, "light.key.power_stops": -1}
    tried = posted(browser, "try", keys=keys, number=7)
    assert (tried["version"], tried["number"]) == (before["version"], 7)
    assert browser.get("/api/set").json() == before
    taken = posted(browser, "change", keys=keys)
    for part in ("points", "wanted", "panels", "room", "backdrop", "camera"):
        assert tried["set"][part] == taken[part], part
    # Inverse square of a small lamp, from 0.8 to 1.1 m.
    fall = before["points"][0]["alone"][0] / tried["set"]["points"][0]["alone"][0]
    assert math.log2(fall) == pytest.approx(2 * math.log2(1.1 / 0.8), abs=1e-3)


def test_a_try_says_what_is_in_the_way(browser: TestClient) -> None:
    tried = posted(browser, "try", keys={"light.fill.elevation_deg": 55})["set"]
    words = [each["what"] for each in tried["findings"] if each["about"] == "light.fill"]
    assert any("into the ceiling" in each for each in words)
    before_lens = {"light.fill.azimuth_deg": 0, "light.fill.distance_m": 1}
    tried = posted(browser, "try", keys=before_lens)["set"]
    assert any(each["what"].startswith("light.fill is in the frame") for each in tried["findings"])
    far = posted(browser, "try", keys={"light.key.nd": 3, "wanted.face.f_number": 22})["set"]
    assert any("short of what is wanted" in each["what"] for each in far["findings"])


def test_a_try_that_cannot_stand_is_one_sentence(browser: TestClient) -> None:
    said = posted(browser, "try", 422, keys={"light.key.distance_m": 99})
    assert "from 0.15 to 15 [m]" in said["error"]
    assert posted(browser, "try", 422, keys={"title.x": 1})["error"]
    old = browser.post("/api/try", json={"version": 0, "keys": {"light.key.distance_m": 1}})
    assert old.status_code == 409


def test_of_one_tab_the_newest_try_alone_is_worked_out(tmp_path: Path) -> None:
    held, trials, found = session(tmp_path), Trials(), []

    def trying(distance: float) -> None:
        keys = {"light.key.distance_m": distance}
        try:
            told = trials.run("tab", held.document, held.standing, keys, False)
            found.append(told["lights"][0]["placed"]["distance_m"])
        except OvertakenError:
            found.append(None)

    trials._working.acquire()  # as while another try is being worked out
    threads = []
    for count, distance in enumerate((1.0, 1.1, 1.2), 1):
        threads.append(threading.Thread(target=trying, args=(distance,)))
        threads[-1].start()
        while trials._count < count:
            threading.Event().wait(0.001)
    trials._working.release()
    for each in threads:
        each.join()
    assert sorted(found, key=str) == [1.2, None, None]


def test_a_drag_is_one_step_of_undo(browser: TestClient) -> None:
    first = browser.get("/api/set").json()
    for distance in (0.9, 1.0, 1.1):
        keys = {"light.key.distance_m": distance}
        moved = posted(browser, "change", keys=keys, merge="light.key")
    assert moved["lights"][0]["placed"]["distance_m"] == 1.1
    posted(browser, "change", keys={"light.fill.distance_m": 1.4}, merge="light.fill")
    assert posted(browser, "undo")["lights"][0]["placed"]["distance_m"] == 1.1
    back = posted(browser, "undo")
    assert back["points"] == first["points"]
    assert back["undo"] is False


def test_the_sitter_moves_and_lamps_on_the_backdrop_stay_with_it(browser: TestClient) -> None:
    rear = {"flash": "monobloc-400", "size_cm": [20, 20], "position_m": [1.0, 1.0, -0.5]}
    posted(browser, "add", what="light", name="background", keys=rear)
    before = browser.get("/api/set").json()
    after = posted(browser, "change", keys={"sitter.moved_m": [0.2, 0, 0.3]})

    def in_room(found: Any, name: str) -> list[float]:
        x, _, z = next(each["centre"] for each in found["lights"] if each["name"] == name)
        return [x - found["room"]["left_m"], z - found["room"]["back_m"]]

    # Nothing of the room has moved in the room; what is placed around the sitter has.
    assert in_room(after, "background") == pytest.approx(in_room(before, "background"), abs=1e-6)
    key = [
        now - then for now, then in zip(in_room(after, "key"), in_room(before, "key"), strict=True)
    ]
    assert key == pytest.approx([0.2, 0.3], abs=1e-6)
    assert after["backdrop"]["gap_m"] == pytest.approx(1.3)
    assert after["backdrop"]["offset_m"] == pytest.approx(-0.2)


def test_panels_are_told_in_the_way_that_they_are_placed(browser: TestClient) -> None:
    board, flag = browser.get("/api/set").json()["panels"]
    assert board["placed"]["distance_m"] == 0.7
    # 0.7 m from the eyes at 60 degrees, camera right: x = d sin a, z = d cos a.
    wanted = [0.7 * math.sin(math.pi / 3), 1.2, 0.7 * math.cos(math.pi / 3)]
    assert board["centre"] == pytest.approx(wanted, abs=1e-4)
    assert board["facing_at"] == pytest.approx([0, 1.2, 0], abs=1e-3)
    start, way = flag["guards"]["from"], flag["guards"]["towards"]
    on_the_line = [s + 0.4 * w for s, w in zip(start, way, strict=True)]
    assert flag["centre"] == pytest.approx(on_the_line, abs=1e-4)
    moved = posted(browser, "change", keys={"panel.flag.guards.distance_m": 0.5})["panels"][1]
    assert moved["guards"]["distance_m"] == 0.5


def test_things_are_added_and_go_without_loose_ends(browser: TestClient) -> None:
    first = browser.get("/api/set").json()
    found = posted(browser, "add", what="light", keys={"role": "rim", "azimuth_deg": 150})
    assert found["added"] == "light.rim"
    assert found["lights"][-1]["placed"]["azimuth_deg"] == 150
    assert posted(browser, "add", what="panel")["added"] == "panel.white_panel"
    wish = {"point": "stool", "light": "rim", "stops": -1}
    assert posted(browser, "add", what="wish", keys=wish)["added"] == "wanted.stool"
    gone = posted(browser, "remove", what="light", name="rim")
    assert gone["removed"] == ["light.rim", "wanted.stool"]
    gone = posted(browser, "remove", what="light", name="key")
    assert gone["removed"] == ["light.key", "wanted.face", "panel.flag"]
    for _ in range(5):
        found = posted(browser, "undo")
    assert found["points"] == first["points"]
    assert found["saved"] is True
    assert "nobody" in posted(browser, "remove", 422, what="light", name="nobody")["error"]
    assert "what" in posted(browser, "add", 422, what="window")["error"]


def test_what_does_not_fit_another_modifier_can_be_taken_off_with_it(tmp_path: Path) -> None:
    browser = client(session(tmp_path))
    box = {"light.key.size_cm": None, "light.key.modifier": "softbox-60x90"}
    posted(browser, "change", keys=box | {"light.key.grid_deg": 40})
    said = posted(browser, "change", 422, keys={"light.key.modifier": "umbrella-white-100"})
    assert said["instead"] == {
        "light.key.modifier": "umbrella-white-100",
        "light.key.grid_deg": None,
    }
    found = posted(browser, "change", keys=said["instead"])
    assert found["lights"][0]["modifier"] == "umbrella-white-100"


def test_every_choice_is_known_to_the_scene(browser: TestClient) -> None:
    found = browser.get("/api/choices").json()
    for gel in found["light"]["gel"]:
        posted(browser, "try", keys={"light.key.gel": [gel["value"]]})
    walls = {f"room.{each['value']}": found["room"]["paint"][0]["value"]
             for each in found["room"]["surface"]}  # fmt: skip
    posted(browser, "change", keys=walls)
    ends = found["fields"]["light"]["distance_m"]
    assert (ends["least"], ends["most"], ends["unit"]) == (0.15, 15, "m")
    assert browser.get("/api/set").json()["room"]["floor"] == found["room"]["paint"][0]["value"]
