"""The page of a small set, served on this machine, and Debian's Chromium to open it with."""

from __future__ import annotations

import re
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from render.page import pictures
from render.page.app import make_app
from render.page.document import open_document
from render.page.events import Hub
from render.page.guard import Door
from render.page.pictures import Pictures
from render.page.session import Session
from render.trace import Engine, FrameStore

LONG_SIDE_PX = 75
REFUSED = re.compile(r"status of (409|422)")
PATIENCE_MS = 30_000  # of the browser, on a machine that is busy with other tests

SCENE = """\
# A white card on its own in the spare room.
title = "Two lights and a backdrop"

[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
back_wall_m = 1.55
walls = 0.2
ceiling = 0.2
floor = 0.2

[backdrop]
gap_m = 1.35
width_m = 2.72
reflectance = 0.5

[camera]
distance_m = 1.7
height_m = 1.2
focal_length_mm = 100
iso_speed = 100
f_number = 8

[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/8"             # stays
azimuth_deg = -45
elevation_deg = 10
distance_m = 1.2

[light.background]
flash = "monobloc-200"
modifier = "strip-30x90"
power = "1/8 +0.8"
position_m = [0.95, 1.0, -0.5]
aim = [0.0, 1.25, -1.35]

[point.chair]
position_m = [0.0, 1.2, 0.0]
facing = "key"

[wanted]
face = { point = "chair", light = "key", f_number = 8 }
"""


@dataclass(frozen=True, slots=True)
class Served:
    """A page that is being served."""

    door: Door
    file: Path
    session: Session
    engine: Engine
    store: FrameStore


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("page")
    file = folder / "two.toml"
    file.write_text(SCENE, encoding="utf-8")
    store, engine = FrameStore(folder / "frames"), Engine()  # the queue starts and ends it
    with pytest.MonkeyPatch.context() as patch, socket.create_server(("127.0.0.1", 0)) as listening:
        patch.setattr(pictures, "LONG_SIDE_PX", LONG_SIDE_PX)
        page = Session(open_document(file, None), Hub(), engine, Pictures(store, engine.name))
        door = Door("127.0.0.1", listening.getsockname()[1])
        server: uvicorn.Server
        app = make_app(page, door, lambda: server.should_exit)
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="critical", lifespan="off", ws="none")
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        page.queue.start()
        thread.start()
        yield Served(door, file, page, engine, store)
        server.should_exit = True
        thread.join(10)
        page.queue.end()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    found = shutil.which("chromium")
    if found is None:
        pytest.skip("no chromium on this machine (Debian: apt-get install chromium)")
    with api.sync_playwright() as playing:
        # The graphics card is imitated, so that both ways of mixing run everywhere.
        browser = playing.chromium.launch(
            executable_path=found,
            args=["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"],
        )
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def opened(served: Served, chromium: Any) -> Iterator[Callable[[str], Any]]:
    """Opens the page in a new window; its errors fail the test."""
    windows, troubles = [], []

    def heard(said: Any) -> None:
        # What the server refuses is told on the page; a picture may be overtaken by a newer one.
        # The browser notes both as well.
        overtaken = "404" in said.text and "/api/frame/" in said.location["url"]
        if said.type == "error" and not (overtaken or REFUSED.search(said.text)):
            troubles.append(f"{said.text} {said.location}")

    def open_page(mix: str = "plain") -> Any:
        # The page forbids scripts from strings; the tests ask it questions in such.
        window = chromium.new_context(bypass_csp=True, viewport={"width": 1440, "height": 900})
        windows.append(window)
        cookie = {"name": served.door.cookie, "value": served.door.session}
        address = served.door.url.split("?")[0]
        window.add_cookies([cookie | {"url": address}])
        page = window.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("console", heard)
        page.goto(f"{address}?mix={mix}", wait_until="commit")
        page.wait_for_function(
            "window.tenthstop?.set.current() && !document.querySelector('#mount.empty')"
        )
        return page

    yield open_page
    for window in windows:
        window.close()
    assert troubles == []


@pytest.fixture(scope="module")
def page(opened: Callable[[str], Any]) -> Any:
    """One window that most tests share; each leaves the set as it likes."""
    return opened("plain")


def until(truth: Callable[[], object], patience_s: float = 20.0) -> None:
    """Wait for something to become true; what never does fails the test."""
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if truth():
            return
        time.sleep(0.05)
    assert truth()
