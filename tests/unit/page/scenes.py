"""A set for the page: two small lamps in the void, a paper, a camera, a meter at a stool."""

from __future__ import annotations

from pathlib import Path

from starlette.testclient import TestClient

from render.page.app import make_app
from render.page.document import Document, open_document
from render.page.events import Hub
from render.page.guard import Door
from render.page.pictures import Pictures
from render.page.session import Session

STOOL = """\
# The violin maker's stool, before she sits down.
title = "Two lamps and a stool"

[camera]
distance_m = 2.0

[backdrop]
gap_m = 1.0          # as far as the room allows

[light.key]
flash = "monobloc-400"
size_cm = [2, 2]
power = "1/4"        # first guess
azimuth_deg = -30
distance_m = 0.8     # by tape

[light.fill]
luminous_energy_lm_s = 100
size_cm = [2, 2]
azimuth_deg = 40
distance_m = 1.5
on = false

[point.stool]
position_m = [0, 1.2, 0]
facing = "camera"

[wanted]
face = { point = "stool", light = "key", f_number = 8 }
"""
PORT = 8123
HERE = f"http://127.0.0.1:{PORT}"
TAB = {"X-Tab": "one"}


def written(folder: Path, text: str = STOOL) -> Path:
    """A scene file of that text."""
    file = folder / "stool.toml"
    file.write_bytes(text.encode())
    return file


def opened(folder: Path, text: str = STOOL) -> Document:
    """The document of a new scene file."""
    return open_document(written(folder, text), None)


def session(folder: Path, text: str = STOOL, pictures: Pictures | None = None) -> Session:
    """A session without an engine; its queue is not started."""
    return Session(opened(folder, text), Hub(), None, pictures)


def client(held: Session) -> TestClient:
    """A browser that has entered by the token."""
    door = Door("127.0.0.1", PORT)
    browser = TestClient(make_app(held, door), base_url=HERE, headers=TAB)
    assert browser.get(f"/?token={door.token}").status_code == 200
    return browser
