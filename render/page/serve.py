"""Serve the page on this machine and open it in the browser."""

from __future__ import annotations

import ipaddress
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from render.errors import EngineError, OutputError
from render.page.app import make_app
from render.page.connection import Connection
from render.page.document import open_document
from render.page.events import Hub
from render.page.guard import Door
from render.page.pictures import Pictures
from render.page.session import Session
from render.scenefile.read import scene_tables
from render.trace import Engine, FrameStore

HERE = "127.0.0.1"
SCREENS = ("DISPLAY", "WAYLAND_DISPLAY")
NICE = 10  # what is traced gives way to first pictures and to readings during a drag
LEAVING_S = 2  # for requests under way when the page is closed


@dataclass(frozen=True, slots=True)
class Opened:
    """How a page is asked for."""

    scene: str
    save_as: Path | None = None
    address: str = HERE
    port: int = 0  # 0 for any that is free
    engine: str = "auto"
    browser: bool = True


def open_page(asked: Opened, say: Callable[[Door], None]) -> None:
    """Serve the page until it is interrupted.

    say : told where it is, once it can be reached
    Raises SceneError, KitError, MeshError, and OutputError for an address or a name to save to.
    """
    address = _address(asked.address)
    source, _ = scene_tables(asked.scene)
    document = open_document(source, asked.save_as)
    engine, trouble = _engine(asked.engine)
    pictures = None if engine is None else Pictures(FrameStore(), engine.name)
    quick = None if engine is None else Engine(engine.choice)
    session = Session(document, Hub(), engine, pictures, trouble, quick)
    with _listening(address, asked.port) as listening:
        door = Door(address, listening.getsockname()[1])
        _serve(session, door, listening, lambda: _reached(asked, door, say))


def _reached(asked: Opened, door: Door, say: Callable[[Door], None]) -> None:
    say(door)
    if asked.browser and _has_screen():
        # Some browsers are waited for; the page must not wait for them.
        threading.Thread(target=webbrowser.open, args=(door.url,), daemon=True).start()


def _has_screen() -> bool:
    """Whether a browser has a window to open in; one of text would take the terminal."""
    return sys.platform != "linux" or any(os.environ.get(name) for name in SCREENS)


def _serve(
    session: Session, door: Door, listening: socket.socket, reached: Callable[[], None]
) -> None:
    server: uvicorn.Server
    app = make_app(session, door, lambda: server.should_exit)
    server = uvicorn.Server(configured(app))
    session.start()
    try:
        reached()
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        pass  # how a page is closed
    finally:
        session.end()


def configured(app: ASGIApp) -> uvicorn.Config:
    """How the page's app is served."""
    return uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        lifespan="off",
        server_header=False,
        timeout_graceful_shutdown=LEAVING_S,
        http=Connection,
        ws="none",
    )


def is_here(address: str) -> bool:
    """Whether an address is reached from this machine alone."""
    return ipaddress.ip_address(address).is_loopback


def _engine(name: str) -> tuple[Engine | None, str]:
    """The engine, or why there is none; raises EngineError where a named one does not work."""
    try:
        return Engine(name, nice=NICE), ""
    except EngineError as problem:
        if name != "auto":
            raise
        return None, f"No picture and no bounce: {problem}"


def _address(text: str) -> str:
    """One address of this machine; the page answers to no other name."""
    try:
        found = ipaddress.ip_address(text)
    except ValueError:
        found = None
    if found is None or found.is_unspecified:
        raise OutputError(
            f"--host: found {text} (accepted: one address of this machine in its own network, "
            "such as 192.168.1.20)"
        )
    return str(found)


def _listening(address: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
        made.listen()
    except OSError as problem:
        made.close()
        reason = (problem.strerror or "cannot be used").lower()
        raise OutputError(
            f"--host: {address} port {port or 'any'}: {reason} (accepted: an address of this "
            "machine and a free port)"
        ) from None
    return made
