"""A server under a flood of connections goes on serving its owner, over real sockets."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx2
import pytest
import uvicorn

from render.page import connection
from render.page.app import make_app
from render.page.guard import Door
from render.page.serve import configured
from tests.unit.page.scenes import session

SECONDS = 30.0  # far more than anything here takes
MOST, HEAD_S = 20, 0.4  # connections and patience of this server
HALF = b"GET /api/set HTTP/1.1\r\nHost: 127"
UPGRADE = (
    "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
    "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n{cookie}\r\n"
)  # RFC 6455, section 1.2


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    patch = pytest.MonkeyPatch()
    patch.setattr(connection, "MOST_OPEN", MOST)
    patch.setattr(connection, "HEAD_S", HEAD_S)
    listening = socket.create_server(("127.0.0.1", 0))
    here = Door("127.0.0.1", listening.getsockname()[1])
    app = make_app(session(tmp_path_factory.mktemp("flood")), here, lambda: server.should_exit)
    server = uvicorn.Server(configured(app))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    yield here
    server.should_exit = True
    thread.join(SECONDS)
    listening.close()
    patch.undo()


@pytest.fixture
def owner(door: Door) -> Iterator[httpx2.Client]:
    with httpx2.Client(
        base_url=f"http://127.0.0.1:{door.port}",
        cookies={door.cookie: door.session},
        timeout=SECONDS,
    ) as browser:
        yield browser


def opened(door: Door, said: bytes) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", door.port), timeout=SECONDS)
    made.sendall(said)
    return made


def is_closed(each: socket.socket) -> bool:
    """Whether the server has closed it."""
    each.setblocking(False)
    try:
        return each.recv(1) == b""
    except BlockingIOError:
        return False
    except ConnectionError:
        return True


def test_of_too_many_that_say_nothing_the_oldest_go_and_the_owner_is_let_in(
    door: Door, owner: httpx2.Client
) -> None:
    with owner.stream("GET", "/api/events") as events:
        lines = events.iter_lines()
        assert next(lines) == ": here"
        with ExitStack() as opens:
            flood = [opens.enter_context(opened(door, HALF)) for _ in range(3 * MOST)]
            assert owner.get("/api/set").status_code == 200
            gone = [is_closed(each) for each in flood]
            assert gone.count(False) <= MOST
            assert gone == sorted(gone, reverse=True)  # those that came first
            # The rest is given up too, and a stream that is wanted is not.
            end = time.monotonic() + SECONDS
            while not all(is_closed(each) for each in flood):
                assert time.monotonic() < end
                time.sleep(0.05)
            assert owner.get("/api/set").status_code == 200
        assert not events.is_closed


@pytest.mark.parametrize(("known", "status"), [(False, b"401"), (True, b"200")])
def test_a_flood_of_web_sockets_is_a_flood_of_plain_requests(
    door: Door, owner: httpx2.Client, known: bool, status: bytes
) -> None:
    cookie = f"Cookie: {door.cookie}={door.session}\r\n" if known else ""
    said = UPGRADE.format(path="/", port=door.port, cookie=cookie).encode()
    for _ in range(2 * MOST):
        with opened(door, said) as each:
            assert each.recv(64).startswith(b"HTTP/1.1 " + status)
    assert owner.get("/api/set").status_code == 200


def test_a_connection_that_is_used_again_and_again_stays(door: Door) -> None:
    said = f"GET /?token=x HTTP/1.1\r\nHost: 127.0.0.1:{door.port}\r\n\r\n".encode()
    with opened(door, b"") as each:
        for _ in range(15):  # 0.75 s, each asked in well under the 0.4 s of this server
            each.sendall(said)
            got = b""
            while b"}" not in got:
                more = each.recv(4096)
                assert more, "the connection was closed while it was used"
                got += more
            time.sleep(0.05)


def test_a_head_without_end_is_refused(door: Door, owner: httpx2.Client, tmp_path: Path) -> None:
    said = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: " + b"x" * (1 << 20)
    try:
        with opened(door, said) as each:
            assert each.recv(64).startswith(b"HTTP/1.1 4")
    except ConnectionError:
        pass  # closed before it was read to its end
    assert owner.get("/api/set").status_code == 200
