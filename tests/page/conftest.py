"""The page of a small set, served on this machine, and Debian's Chromium to open it with."""

from __future__ import annotations

import re
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from render.page import making, pictures
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
SHOWN = "window.tenthstop?.set.current() && document.querySelector('#views svg')"
PICTURED = f"{SHOWN} && !document.querySelector('#mount.empty')"

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
SEATED = """
[sitter]
model = "alma"
eyes_height_m = 1.2

[panel.fill]
kind = "white"
size_cm = [60, 90]
azimuth_deg = 60
distance_m = 0.6
"""


@dataclass(frozen=True, slots=True)
class Served:
    """A page that is being served."""

    door: Door
    file: Path
    session: Session
    engine: Engine | None
    store: FrameStore


@contextmanager
def serving(file: Path, engine: Engine | None, store: FrameStore) -> Iterator[Served]:
    """The page of a scene file on a free port; without an engine nothing is traced."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        shown = Pictures(store, engine.name) if engine else None
        page = Session(open_document(file, None), Hub(), engine, shown)
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


@pytest.fixture(scope="package")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Two lights and a backdrop, traced."""
    folder = tmp_path_factory.mktemp("page")
    file = folder / "two.toml"
    file.write_text(SCENE, encoding="utf-8")
    store, engine = FrameStore(folder / "frames"), Engine()  # the queue starts and ends it
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pictures, "LONG_SIDE_PX", LONG_SIDE_PX)
        with serving(file, engine, store) as found:
            yield found


@pytest.fixture(scope="package")
def still(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The same with a panel and a sitter, without an engine: what is moved costs no tracing."""
    folder = tmp_path_factory.mktemp("still")
    file = folder / "seated.toml"
    file.write_text(SCENE + SEATED, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(making, "is_made", lambda sitter: True)  # she is made here, with few hairs
        with serving(file, None, FrameStore(folder / "frames")) as found:
            yield found


@pytest.fixture(scope="package")
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


@pytest.fixture(scope="package")
def opened(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Opens the page of a server in a new window; its errors fail the test."""
    windows, troubles = [], []

    def heard(said: Any) -> None:
        # What the server refuses is told on the page; a picture may be overtaken by a newer one.
        # The browser notes both as well.
        overtaken = "404" in said.text and "/api/frame/" in said.location["url"]
        if said.type == "error" and not (overtaken or REFUSED.search(said.text)):
            troubles.append(f"{said.text} {said.location}")

    def open_page(server: Served, ready: str = PICTURED, **kind: Any) -> Any:
        # The page forbids scripts from strings; the tests ask it questions in such.
        options = {"bypass_csp": True, "viewport": {"width": 1440, "height": 900}} | kind
        window = chromium.new_context(**options)
        windows.append(window)
        cookie = {"name": server.door.cookie, "value": server.door.session}
        address = server.door.url.split("?")[0]
        window.add_cookies([cookie | {"url": address}])
        page = window.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("console", heard)
        page.goto(f"{address}?mix=plain", wait_until="commit")
        page.wait_for_function(ready)
        return page

    yield open_page
    for window in windows:
        window.close()
    assert troubles == []


@pytest.fixture(scope="package")
def page(served: Served, opened: Callable[..., Any]) -> Any:
    """One window that most tests share; each leaves the set as it likes."""
    return opened(served)


@pytest.fixture(scope="package")
def sheet(still: Served, opened: Callable[..., Any]) -> Any:
    """A window on the set that is not traced."""
    return opened(still, SHOWN)


def until(truth: Callable[[], object], patience_s: float = 20.0) -> None:
    """Wait for something to become true; what never does fails the test."""
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if truth():
            return
        time.sleep(0.05)
    assert truth()
