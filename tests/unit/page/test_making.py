"""A sitter who was never made holds nothing up: another sits there, and is told to."""

import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.page import making
from render.page.making import Maker
from render.sitter import Wishes
from render.sitter.body import Body, Landmark, Painted, Surface
from tests.unit.page.scenes import STOOL, client, session

SECONDS = 30.0
SEATED = STOOL + '\n[sitter]\nmodel = "alma"\n'


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Hair styles of sitters that are kept; a body is a nose that tells its hair."""
    kept = {"bob"}

    def body(wishes: Wishes, **_: Any) -> Body:
        place, way = np.array([0.0, 0.0, 0.1]), np.array([0.0, 0.0, 1.0])
        marks = {name: Landmark(name, place, way, "skin") for name in ("nose_tip", "chin")}
        corners = np.array([[0, 0, 0.1], [0.01, 0, 0.1], [0, 0.01, 0.1]], np.float32)
        facing = np.tile(np.float32([0, 0, 1]), (3, 1))
        paint = Painted(np.full((1, 1, 3), 0.3, np.float32), 0.5)
        faces = np.array([[0, 1, 2]])
        skin = Surface("skin", corners, faces, facing, corners[:, :2], paint)
        return Body((skin,), (), marks, str(wishes.hair))

    monkeypatch.setattr("render.layout.people.build_body", body)
    monkeypatch.setattr("render.layout.people.body_is_made", lambda w, **_: w.hair in kept)
    monkeypatch.setattr("render.page.outlook.sitter", lambda *_: [])
    return kept


def wanted(held: Any, monkeypatch: pytest.MonkeyPatch) -> list[Wishes | None]:
    asked: list[Wishes | None] = []
    monkeypatch.setattr(held._maker, "want", asked.append)
    return asked


def test_until_the_new_one_is_made_the_old_one_sits_there(
    tmp_path: Path, made: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    held = session(tmp_path, SEATED + 'hair = "bob"\n')
    asked = wanted(held, monkeypatch)
    browser = client(held)

    def posted(keys: dict[str, Any]) -> Any:
        version = browser.get("/api/set").json()["version"]
        answer = browser.post("/api/change", json={"version": version, "keys": keys})
        assert answer.status_code == 200, answer.text
        return answer.json()

    found = posted({"sitter.hair": "long"})
    assert "being made" in found["making"]
    assert found["sitter"]["wishes"]["hair"] == "long"
    assert asked[-1] is not None
    assert asked[-1].hair == "long"
    assert held.standing.layout.body.version == "bob"
    assert "being made" in posted({"light.key.distance_m": 0.9})["making"]  # all else goes on
    assert posted({"sitter.hair": "bob"})["making"] == ""
    assert asked[-1] is None
    posted({"sitter.hair": "long"})
    made.add("long")
    held._made()
    found = browser.get("/api/set").json()
    assert found["making"] == ""
    assert held.standing.layout.body.version == "long"
    assert found["lights"][0]["placed"]["distance_m"] == 0.9


def test_a_page_opens_before_its_first_sitter_is_made(
    tmp_path: Path, made: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    held = session(tmp_path, SEATED + 'hair = "curls"\n')
    browser = client(held)
    answer = browser.get("/api/set")
    assert (answer.status_code, answer.json()["making"]) == (503, True)
    early = browser.post("/api/change", json={"version": 1, "keys": {"light.key.on": False}})
    assert (early.status_code, early.json()["making"]) == (503, True)
    made.add("curls")
    held._made()
    assert browser.get("/api/set").json()["making"] == ""


class Slow:
    """Stands for the process that makes a sitter."""

    started: list["Slow"] = []

    def __init__(self, *_: Any, **__: Any) -> None:
        self.ended, self.returncode = threading.Event(), 0
        Slow.started.append(self)

    def communicate(self, _: bytes) -> tuple[bytes, bytes]:
        assert self.ended.wait(SECONDS)
        return b"", b"it broke\n"

    def kill(self) -> None:
        self.returncode = -9
        self.ended.set()


def test_the_newest_sitter_alone_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(making.subprocess, "Popen", Slow)
    Slow.started.clear()
    done, told, failed = threading.Event(), [], []
    maker = Maker(lambda: (told.append("made"), done.set()), lambda words: failed.append(words))
    for hair in ("bob", "bob", "long"):
        maker.want(Wishes(hair=hair))
    first, second = Slow.started
    assert first.returncode == -9
    assert second.returncode == 0
    second.ended.set()
    assert done.wait(SECONDS)
    maker.want(Wishes(hair="bob"))
    Slow.started[-1].returncode = 1
    Slow.started[-1].ended.set()
    while not failed:
        done.wait(0.001)
        threading.Event().wait(0.001)
    assert told == ["made"]
    assert failed == ["The sitter could not be made: it broke"]
