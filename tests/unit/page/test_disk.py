"""Two editors at once: what either has done is kept, or asked about; nothing is lost in silence."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from render.page.merging import changes, merged
from render.page.watch import Watch
from render.scenefile import load_scene
from tests.unit.page.scenes import STOOL, client, session, written

THEIRS = STOOL.replace("by tape", "by laser").replace("gap_m = 1.0 ", "gap_m = 1.2 ")


@pytest.fixture
def browser(tmp_path: Path) -> TestClient:
    return client(session(tmp_path))


def posted(browser: TestClient, path: str, status: int = 200, **said: Any) -> Any:
    version = browser.get("/api/set").json()["version"]
    answer = browser.post(f"/api/{path}", json={"version": version, **said})
    assert answer.status_code == status, answer.text
    return answer.json()


def looked(browser: TestClient, held: Any) -> Any:
    held.look_at_disk()  # as the watch does every two seconds
    return browser.get("/api/set").json()["disk"]


def test_a_change_on_disk_is_told_with_its_keys(tmp_path: Path) -> None:
    held = session(tmp_path)
    browser = client(held)
    assert looked(browser, held)["state"] == "same"
    written(tmp_path, THEIRS)
    found = looked(browser, held)
    assert (found["state"], found["keys"], found["both"]) == ("changed", ["backdrop.gap_m"], [])
    posted(browser, "change", keys={"backdrop.gap_m": 1.5})
    found = looked(browser, held)
    assert found["both"] == ["backdrop.gap_m"]
    assert "backdrop.gap_m was changed on this page as well" in found["words"]
    (tmp_path / "stool.toml").write_text("title = [")
    assert "cannot be read" in looked(browser, held)["words"]
    (tmp_path / "stool.toml").unlink()
    assert looked(browser, held)["state"] == "gone"


def test_edits_of_different_keys_come_together_with_their_comments(
    browser: TestClient, tmp_path: Path
) -> None:
    posted(browser, "change", keys={"light.key.distance_m": 0.9, "light.fill.on": True})
    file = written(tmp_path, THEIRS)
    assert posted(browser, "save", 409)["disk"] is True
    found = posted(browser, "merge")
    assert found["backdrop"]["gap_m"] == 1.2
    assert found["disk"]["state"] == "same"
    posted(browser, "save")
    wanted = THEIRS.replace("0.8     # by laser", "0.9     # by laser")
    assert file.read_text() == wanted.replace("on = false", "on = true")


def test_contradictions_are_asked_about_key_by_key(browser: TestClient, tmp_path: Path) -> None:
    posted(browser, "change", keys={"backdrop.gap_m": 1.5, "light.key.distance_m": 0.9})
    file = written(tmp_path, THEIRS)
    said = posted(browser, "merge", 409)
    assert said["both"] == [{"key": "backdrop.gap_m", "mine": 1.5, "theirs": 1.2, "was": 1.0}]
    assert "backdrop.gap_m" in said["error"]
    assert file.read_text() == THEIRS
    assert posted(browser, "merge", take={"backdrop.gap_m": "theirs"})["backdrop"]["gap_m"] == 1.2
    posted(browser, "undo")
    found = posted(browser, "merge", take={"backdrop.gap_m": "mine"})
    assert found["backdrop"]["gap_m"] == 1.5
    assert found["lights"][0]["placed"]["distance_m"] == 0.9


def test_a_table_taken_out_here_and_changed_there_is_a_contradiction(
    browser: TestClient, tmp_path: Path
) -> None:
    posted(browser, "remove", what="light", name="fill")
    written(tmp_path, STOOL.replace("azimuth_deg = 40", "azimuth_deg = 50"))
    said = posted(browser, "merge", 409)
    assert [each["key"] for each in said["both"]] == ["light.fill"]
    found = posted(browser, "merge", take={"light.fill": "theirs"})
    assert found["lights"][1]["placed"]["azimuth_deg"] == 50


def test_reload_drops_mine_until_undo_and_theirs_is_still_not_overwritten(
    browser: TestClient, tmp_path: Path
) -> None:
    posted(browser, "change", keys={"light.key.distance_m": 0.9})
    file = written(tmp_path, THEIRS)
    found = posted(browser, "reload")
    assert (found["saved"], found["lights"][0]["placed"]["distance_m"]) == (True, 0.8)
    back = posted(browser, "undo")
    assert back["lights"][0]["placed"]["distance_m"] == 0.9
    assert posted(browser, "save", 409)["disk"] is True  # mine knows nothing of theirs
    assert file.read_text() == THEIRS
    posted(browser, "redo")
    posted(browser, "save")
    assert file.read_text() == THEIRS


def test_another_name_makes_a_new_file_and_never_takes_one(
    browser: TestClient, tmp_path: Path
) -> None:
    posted(browser, "change", keys={"light.key.distance_m": 0.9})
    written(tmp_path, THEIRS)
    for name in ("stool.toml", "../mine.toml", "a/b.toml", ".toml", "mine.txt", "", 7, "x" * 200):
        assert "save: " in posted(browser, "save", 422, **{"as": name})["error"]
    assert posted(browser, "save", **{"as": "mine.toml"})["file"] == "mine.toml"
    assert load_scene(tmp_path / "mine.toml").scene.light["key"].distance_m == 0.9
    assert (tmp_path / "stool.toml").read_text() == THEIRS
    posted(browser, "change", keys={"light.key.distance_m": 1.0})
    posted(browser, "save")
    assert load_scene(tmp_path / "mine.toml").scene.light["key"].distance_m == 1.0
    assert sorted(each.name for each in tmp_path.iterdir()) == ["mine.toml", "stool.toml"]


def test_over_writes_what_was_asked_about(browser: TestClient, tmp_path: Path) -> None:
    posted(browser, "change", keys={"light.key.distance_m": 0.9})
    file = written(tmp_path, THEIRS)
    posted(browser, "save", over=True)
    assert file.read_text() == STOOL.replace("0.8 ", "0.9 ")


def test_a_file_that_cannot_stand_is_refused_and_mine_stays(
    browser: TestClient, tmp_path: Path
) -> None:
    before = browser.get("/api/set").json()
    for text in ("title = [", "\udcff", STOOL.replace("0.8", "99"), 'title = "no light"'):
        (tmp_path / "stool.toml").write_bytes(text.encode("utf-8", "surrogateescape"))
        assert "stool.toml" in posted(browser, "reload", 422)["error"]
    assert browser.get("/api/set").json()["lights"] == before["lights"]
    (tmp_path / "stool.toml").write_text('kit = ["/etc/passwd"]\n' + STOOL)
    assert "name files" in posted(browser, "reload", 422)["error"]


def test_the_difference_put_into_the_base_is_the_other(tmp_path: Path) -> None:
    mine = STOOL.replace('power = "1/4"', "power = 0.5").replace("on = false", "")
    assert changes({"a": {"b": 1, "c": 2}}, {"a": {"b": 1}, "d": {}}) == {"a.c": None, "d": {}}
    assert merged(STOOL, mine, THEIRS, {}).count("by laser") == 1
    both = load_scene(written(tmp_path, merged(STOOL, mine, THEIRS, {}))).scene
    assert (both.light["key"].power, both.light["fill"].on) == (0.5, True)
    assert both.backdrop is not None
    assert both.backdrop.gap_m == 1.2


def test_the_watch_tells_of_changes_alone() -> None:
    stamps, told, ended = iter([1, 1, 2, 2]), [], []
    watch = Watch(
        lambda: next(stamps, 3), lambda: told.append(True) or ended.append(len(told)), 0.001
    )
    watch.start()
    while len(told) < 2:
        watch._ended.wait(0.001)
    watch.end()
    assert len(told) == 2


def test_another_name_moves_nothing_and_asks_for_no_new_picture(tmp_path: Path) -> None:
    held = session(tmp_path)
    before = held.standing
    posted(client(held), "save", **{"as": "mine.toml"})
    assert held.standing.direct is before.direct
    assert held.standing.setup.file.name == "mine.toml"
