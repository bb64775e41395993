"""What is taken away is what the page shows, and leaves nothing behind."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.card import Plate
from render.page.pictures import Pictures
from render.trace import FrameStore
from render.trace.tally import Tally
from tests.unit.page.scenes import client, session

EVEN = 0.003  # of every frame [cd·s/m² per lm·s]


def test_the_look_is_that_of_the_frames(tmp_path: Path) -> None:
    pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    held = session(tmp_path, pictures=pictures)
    browser = client(held)
    missing = browser.get("/api/export/look.png")
    assert (missing.status_code, list(missing.json())) == (422, ["error"])
    width, height = held._wanted.order.size_px
    for name in held._wanted.names.values():
        even = np.full((height, width, 3), EVEN, np.float32)
        pictures.kept[name] = Tally.empty((width, height)).plus(even).plus(even)
    answer = browser.get("/api/export/look.png")
    assert answer.headers["content-type"] == "image/png"
    shown = np.array(Image.open(io.BytesIO(answer.content)))
    assert shown.shape == (height, width, 3)
    found = browser.get("/api/set").json()
    key, camera = found["lights"][0], found["camera"]  # the fill is off
    linear = EVEN * 64 * key["gain"] * 2 ** key["power_stops"]
    linear *= camera["iso_speed"] / 100 / camera["f_number"] ** 2
    # IEC 61966-2-1, the upper branch of the sRGB curve.
    assert linear > 0.0031308
    assert abs(int(shown[0, 0, 1]) - 255 * (1.055 * linear ** (1 / 2.4) - 0.055)) <= 1


def test_a_coarse_look_is_offered_by_its_name_and_what_is_missing_is_said(tmp_path: Path) -> None:
    pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    held = session(tmp_path, pictures=pictures)
    browser = client(held)
    names = held._wanted.names
    width, height = held._wanted.order.size_px
    even = np.full((height, width, 3), EVEN, np.float32)
    pictures.kept[names["key"]] = Tally.empty((width, height)).plus(even).plus(even)
    missing = browser.get("/api/export/look.png").json()["error"]
    assert "the light of fill is still being traced" in missing
    small = np.full((height // 4, width // 4, 3), EVEN, np.float32)
    pictures.coarse[names["fill"]] = (small, 1)
    coarse = browser.get("/api/export/look.png")
    assert "stool-look-coarse.png" in coarse.headers["content-disposition"]
    pictures.kept[names["fill"]] = Tally.empty((width, height)).plus(even).plus(even)
    fine = browser.get("/api/export/look.png")
    assert "stool-look.png" in fine.headers["content-disposition"]
    # The fill is off and even light is even when it is enlarged: the pictures are the same.
    shown = [np.array(Image.open(io.BytesIO(each.content))) for each in (coarse, fine)]
    assert np.array_equal(*shown)


def test_the_card_is_a_pdf_and_no_file_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    aside = tmp_path / "aside"
    aside.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(aside))
    # Drawing the set takes seconds, and has tests of its own.
    monkeypatch.setattr("render.page.exports.drawn_set", lambda *_: Plate("set", "left out"))
    held = session(tmp_path)
    held.queue.start()
    browser = client(held)
    answer = browser.get("/api/export/card.pdf", params={"paper": "letter", "look": "1"})
    assert answer.status_code == 200, answer.text
    assert answer.content.startswith(b"%PDF-")
    assert answer.headers["content-type"] == "application/pdf"
    assert "stool-card.pdf" in answer.headers["content-disposition"]
    wrong = browser.get("/api/export/card.pdf", params={"paper": "../a4"})
    assert (wrong.status_code, list(wrong.json())) == (422, ["error"])
    held.queue.end()
    assert list(aside.iterdir()) == []
    assert sorted(each.name for each in tmp_path.iterdir()) == ["aside", "stool.toml"]
