"""The combine page's server: pictures of the scene's folder only, results that are written once."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from render.combine.making import make
from render.combine.recipe import read_recipe
from render.page import album, small
from render.page.exports import Download
from tests.unit.combine.files import flat, png
from tests.unit.page.scenes import client, session

WIDTH, HEIGHT = 24, 30


@pytest.fixture
def browser(tmp_path: Path) -> TestClient:
    """A folder with a look, grains on dirty black, and a picture that lies elsewhere."""
    folder = tmp_path / "set"
    folder.mkdir()
    png(folder / "look.png", flat(100, (WIDTH, HEIGHT)))
    grains = flat(2, (12, 8))
    grains[3:5, 4:8] = 200
    grains[0, 0] = 9
    png(folder / "grains.png", grains)
    png(folder / "plate.png", flat(2, (12, 8)))
    png(tmp_path / "other.png", flat(50))
    (folder / "link.png").symlink_to(tmp_path / "other.png")
    return client(session(folder))


def recipe(**element: Any) -> dict[str, Any]:
    """A recipe as the page sends it."""
    return {"look": "look.png", "element": [{"file": "grains.png", **element}]}


def saved(browser: TestClient, name: str, said: dict[str, Any]) -> Any:
    return browser.post("/api/combine/save", json={"recipe": said, "name": name})


def test_the_folder_is_listed_and_nothing_that_leads_out_of_it(
    browser: TestClient, tmp_path: Path
) -> None:
    told = browser.get("/api/combine/folder").json()
    assert told["pictures"] == ["grains.png", "look.png", "plate.png"]
    assert told["recipes"] == []  # the scene lies there too
    outside = ["../other.png", str(tmp_path / "other.png"), "link.png", "..", "", "stool.toml"]
    for name in outside:
        for where in ("picture", "black"):
            answer = browser.get(f"/api/combine/{where}", params={"name": name})
            assert answer.status_code == 422, name
            assert "lies in it" in answer.json()["error"]
        for said in (recipe(file=name), recipe(plates=[name]), recipe() | {"look": name}):
            assert saved(browser, "out.png", said).status_code == 422, name
    assert not (tmp_path / "set" / "out.png").exists()


def test_a_recipe_that_names_files_elsewhere_is_not_opened(
    browser: TestClient, tmp_path: Path
) -> None:
    text = 'look = "look.png"\nout = "x.png"\n[[element]]\nfile = "../other.png"\n'
    (tmp_path / "set" / "far.toml").write_text(text)
    assert browser.get("/api/combine/folder").json()["recipes"] == ["far.toml"]
    answer = browser.get("/api/combine/recipe", params={"name": "far.toml"})
    assert answer.status_code == 422


def test_black_is_told_for_every_gain(browser: TestClient) -> None:
    """Of 96 pixels 8 are grains and 1 is dirt of code 9; code 2 two stops up is over code 3."""
    black = browser.get("/api/combine/black", params={"name": "grains.png"}).json()["black"]
    over = black["over"]

    def share(gain: float) -> Any:
        return over["shares"][round((gain - over["from"]) / over["step"])]

    assert share(0) == pytest.approx(9 / 96, abs=1e-4)
    assert share(-3) == pytest.approx(8 / 96, abs=1e-4)  # 9 / 8 codes: clean
    assert share(2) == 1
    assert black["backdrop_light"] / black["limit_light"] == pytest.approx(2 / 3, rel=1e-4)


def test_the_browser_gets_light_and_the_brightest_of_each_place(
    browser: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = browser.get("/api/combine/picture", params={"name": "grains.png"})
    planes = np.frombuffer(answer.content, np.float16).reshape(8, 12, 5)
    assert (answer.headers["x-width"], answer.headers["x-height"]) == ("12", "8")
    # IEC 61966-2-1 by hand: ((200 / 255 + 0.055) / 1.055) ** 2.4
    assert planes[3, 4].tolist() == pytest.approx([0.57758] * 3 + [1, 0.57758], rel=1e-3)
    # A third as large: the one pixel of dirt, code 9, is still the brightest of its place.
    monkeypatch.setattr(small, "LONG_SIDE_PX", 4)
    found = small.Smalls().small(tmp_path / "set", "grains.png", [], 3.0)
    assert found.planes.shape == (3, 4, 5)
    assert found.planes[0, 0, 4] == pytest.approx(9 / 255 / 12.92, rel=1e-3)
    assert found.planes[0, 0, 0] < found.planes[0, 0, 4] / 2


def test_the_present_look_is_put_beside_the_others(browser: TestClient, tmp_path: Path) -> None:
    refused = browser.post("/api/combine/look", json={})  # no engine, no picture
    assert (refused.status_code, list(refused.json())) == (422, ["error"])
    look = Download("two-look.png", "image/png", b"a picture")
    names = [album.put(tmp_path / "set", look) for _ in range(3)]
    assert names == ["two-look.png", "two-look-2.png", "two-look-3.png"]
    assert (tmp_path / "set" / names[2]).read_bytes() == b"a picture"


def test_a_plate_is_taken_out(browser: TestClient) -> None:
    said = {"name": "grains.png", "plate": "plate.png"}
    told = browser.get("/api/combine/black", params=said).json()
    assert told["black"]["backdrop_light"] == 0
    # A set of code 2 that is lit a stop brighter leaves as much again, 2 / 255 / 12.92; more than
    # that is the element.
    assert told["black"]["element_from_light"] == pytest.approx(2 / 255 / 12.92, rel=1e-3)
    alone = browser.get("/api/combine/black", params={"name": "grains.png"}).json()
    assert alone["black"]["element_from_light"] is None
    other = browser.get("/api/combine/black", params={"name": "grains.png", "plate": "look.png"})
    assert other.status_code == 422
    assert "24 x 30" in other.json()["error"]
    many = {"name": "grains.png", "plate": ["plate.png"] * 65}
    assert browser.get("/api/combine/picture", params=many).status_code == 422


def test_what_is_saved_is_what_combine_makes_and_is_written_once(
    browser: TestClient, tmp_path: Path
) -> None:
    folder = tmp_path / "set"
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    said = recipe(at=[0.25, 0.5], gain_stops=-1.0, way="screen", scale=0.5)
    answer = saved(browser, "laid.png", said)
    assert answer.status_code == 200, answer.text
    assert answer.json()["saved"] == ["laid.png", "laid.toml"]
    assert answer.json()["report"]["elements"][0]["way"] == "screen"
    kept = tomllib.loads((folder / "laid.toml").read_text())
    assert (kept["look"], kept["element"][0]["at"]) == ("look.png", [0.25, 0.5])
    again = make(read_recipe(folder / "laid.toml"), folder).linear
    codes = np.asarray(Image.open(folder / "laid.png"))
    assert np.abs(codes - 255.0 * _encoded(again)).max() <= 0.51
    assert browser.get("/api/combine/folder").json()["recipes"] == ["laid.toml"]
    opened = browser.get("/api/combine/recipe", params={"name": "laid.toml"}).json()
    assert opened["element"][0]["gain_stops"] == -1
    for name in ["laid.png", "laid.exr", "look.png", "stool.png"]:  # there, or its recipe is
        refused = saved(browser, name, said)
        assert refused.status_code == 422, name
        assert "there already" in refused.json()["error"]
    for name in ["../up.png", "x.gif", "a/b.png", "", ".png", None, "new\n.png"]:
        assert saved(browser, name, said).status_code == 422, name
    after = {file.name: file.read_bytes() for file in folder.iterdir()}
    assert {name: after[name] for name in before} == before
    assert sorted(set(after) - set(before)) == ["laid.png", "laid.toml"]


def _encoded(linear: Any) -> Any:
    # IEC 61966-2-1
    x = np.clip(linear.astype(np.float64), 0, 1)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("said", [[], {}, {"recipe": 3}, {"recipe": {"look": "look.png"}}])
def test_what_is_no_recipe_is_said(browser: TestClient, said: Any) -> None:
    answer = browser.post("/api/combine/save", json=said)
    assert (answer.status_code, list(answer.json())) == (422, ["error"])
    wrong = browser.post("/api/combine/save", json={"recipe": recipe(scale=-1), "name": "x.png"})
    assert "element[0].scale" in wrong.json()["error"]


def test_a_region_is_what_combine_makes_of_it(browser: TestClient) -> None:
    square = {"points": [[0, 0], [0.5, 0], [0.5, 1], [0, 1]], "feather": 0.0}
    body = {"region": [square], "width": 8, "height": 4}
    weight = np.frombuffer(browser.post("/api/combine/region", json=body).content, np.float32)
    assert weight.reshape(4, 8).mean(0) == pytest.approx([1, 1, 1, 1, 0, 0, 0, 0], abs=0.51)
    assert browser.post("/api/combine/region", json=body | {"width": 10**6}).status_code == 422
