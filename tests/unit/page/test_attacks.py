"""Other pages, strangers and floods get nothing from the page; its owner is served all along."""

from __future__ import annotations

import asyncio
import json
import secrets
import threading
import tracemalloc
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from render.errors import EngineError
from render.page import guard
from render.page.app import make_app, static_files
from render.page.events import MOST_TABS, MOST_WAITING, Hub
from render.page.guard import MOST_BYTES, Door
from render.page.jobs import MOST_JOBS
from render.page.naming import new_file
from render.page.queue import Ears, Queue
from render.page.session import Session
from render.page.trials import MOST_TABS as MOST_TRYING
from tests.unit.page.scenes import HERE, PORT, TAB, session

SECONDS = 30.0  # far more than anything here takes
GUESSES = 300
LITTLE = 400_000  # bytes; hundreds of requests leave less than one of them could carry
ADDRESSES = ("/", "/combine", "/static/main.js", "/api/set", "/api/choices", "/api/events",
             "/api/frame/key?digest=x", "/api/export/look.png", "/api/export/card.pdf",
             "/api/combine/folder", "/api/combine/picture?name=x",
             "/api/combine/recipe?name=x")  # fmt: skip
POSTS = ("/api/try", "/api/change", "/api/add", "/api/remove", "/api/undo", "/api/redo",
         "/api/save", "/api/reload", "/api/merge", "/api/balance", "/api/export/series",
         "/api/export/series/stop", "/api/combine/region", "/api/combine/look",
         "/api/combine/save")  # fmt: skip


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Session:
    return session(tmp_path_factory.mktemp("attacks"))


@pytest.fixture(scope="module")
def door() -> Door:
    return Door("127.0.0.1", PORT)


@pytest.fixture(scope="module")
def owner(held: Session, door: Door) -> TestClient:
    browser = TestClient(make_app(held, door), base_url=HERE, headers=TAB)
    assert browser.get(f"/?token={door.token}").status_code == 200
    return browser


@pytest.fixture(autouse=True)
def _served_all_along(owner: TestClient, held: Session) -> Iterator[None]:
    yield
    assert owner.get("/api/set").json()["version"] == held.document.version == 1
    assert not held.queue.jobs.soon


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_another_page_asks_for_is_refused_by_its_own_words(
    owner: TestClient, site: str
) -> None:
    # Fetch metadata, as browsers send it (W3C): a picture or script of another page has no Origin,
    # and a page at another port of this machine is the same "site", so the cookie comes along.
    told = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "no-cors"}
    for path in ADDRESSES:
        assert owner.get(path, headers=told).status_code == 403, path
    for path in POSTS:
        assert owner.post(path, json={"version": 1}, headers=told).status_code == 403, path


def test_a_link_to_the_page_may_be_followed_but_to_nothing_else(owner: TestClient) -> None:
    told = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert owner.get("/", headers=told).status_code == 200
    assert owner.get("/api/export/card.pdf", headers=told).status_code == 403
    typed = {"Sec-Fetch-Site": "none", "Sec-Fetch-Mode": "navigate"}
    assert owner.get("/", headers=typed).status_code == 200


@pytest.mark.parametrize("path", POSTS)
def test_another_origin_does_nothing_anywhere(owner: TestClient, path: str) -> None:
    for origin in ("http://evil.example", "null", f"{HERE}.evil.example", f"{HERE}0", ""):
        body = {"version": 1, "keys": {"light.key.power": "1/8"}}
        assert owner.post(path, json=body, headers={"Origin": origin}).status_code == 403


@pytest.mark.parametrize(
    "host",
    [
        f"127.0.0.1.evil.example:{PORT}", f"127.0.0.1:{PORT}.", f"127.0.0.1:{PORT}@evil.example",
        f"evil.example@127.0.0.1:{PORT}", f"127.0.0.1:0{PORT}", f"127.1:{PORT}", f"0.0.0.0:{PORT}",
        f"[::1]:{PORT}", f"[::ffff:127.0.0.1]:{PORT}", f"2130706433:{PORT}",
    ],
)  # fmt: skip
def test_names_that_lead_here_by_another_way_are_refused(owner: TestClient, host: str) -> None:
    told = {"Host": host, "X-Forwarded-Host": f"127.0.0.1:{PORT}"}
    assert owner.get("/api/set", headers=told).status_code == 403


@pytest.mark.parametrize("path", ["/", "/api/events", "/api/set"])
def test_nobody_gets_a_web_socket(owner: TestClient, path: str) -> None:
    # Browsers open them to any host and send the cookie along; only the Origin tells.
    for told in ({}, {"Origin": HERE}, {"Origin": "http://evil.example"}):
        with (
            pytest.raises(WebSocketDisconnect) as closed,
            owner.websocket_connect(path, headers=told),
        ):
            pass
        assert closed.value.code == 1008


def test_secrets_are_compared_whole_and_guesses_leave_nothing(
    owner: TestClient, door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    compared: list[tuple[bytes, bytes]] = []

    class Watched:
        """`secrets`, with what is compared written down."""

        @staticmethod
        def compare_digest(one: bytes, other: bytes) -> bool:
            compared.append((one, other))
            return secrets.compare_digest(one, other)

    stranger = TestClient(owner.app, base_url=HERE, headers=TAB)
    monkeypatch.setattr(guard, "secrets", Watched)
    guesses = [door.token[:k] + "x" * (len(door.token) - k) for k in (0, 16, 31)]
    for guess in [*guesses, "é", "x" * 4096]:
        assert stranger.get("/", params={"token": guess}).status_code == 401
        cookie = {b"Cookie": f"{door.cookie}={guess}".encode()}
        assert stranger.get("/api/set", headers=cookie).status_code == 401
    # A near guess is treated as a far one: whole against whole, by the comparison that tells
    # nothing by its time.
    assert [one for one, _ in compared[:6:2]] == [guess.encode() for guess in guesses]
    assert {other for _, other in compared} == {door.token.encode(), door.session.encode()}
    monkeypatch.undo()

    def guessing() -> None:
        for k in range(GUESSES):
            assert stranger.get("/", params={"token": f"{k:032d}"}).status_code == 401

    assert _grown(guessing) < LITTLE
    assert not stranger.cookies


@pytest.mark.parametrize(
    "path",
    ["/static/%252e%252e/app.py", "/static/..%c0%af..%c0%afapp.py", "/static/....//app.py",
     "/static/%2e%2e%2f%2e%2e%2f%2e%2e%2fpyproject.toml", "/static/./../../app.py",
     "/static/main.js/../../app.py", "/static/\\..\\app.py", "/static/C:%5cboot.ini",
     "/static/file:%2f%2f%2fetc%2fpasswd", "/api/frame/..%2f..%2fx?digest=..%2f..%2fx"],
)  # fmt: skip
def test_no_way_leads_out_of_the_folder(owner: TestClient, path: str) -> None:
    answer = owner.get(path)
    assert answer.status_code == 404
    assert list(answer.json()) == ["error"]


def test_links_are_no_way_out_either(tmp_path: Path) -> None:
    outside, inside = tmp_path / "outside", tmp_path / "static"
    for folder in (outside, inside):
        folder.mkdir()
        (folder / "plain.js").write_text("1")
    (inside / "link.js").symlink_to(outside / "plain.js")
    (inside / "folder").symlink_to(outside)
    assert list(static_files(inside)) == ["plain.js"]
    (inside / "new.toml").symlink_to(outside / "not-there.toml")
    for name in ("new.toml", "../new.toml", "folder/new.toml", "/new.toml", ".toml", "a\0.toml"):
        with pytest.raises(Exception, match="save: "):
            new_file(inside, name)


# What follows speaks to the application itself: many at once, slow ones and floods.

Receive = Callable[[], Awaitable[dict[str, Any]]]


async def _asked(app: Any, door: Door, path: str, receive: Receive | None = None,
                 body: Any = None, cookie: bool = True) -> tuple[int, bytes]:  # fmt: skip
    """Status and body of one request."""
    headers = {"host": f"127.0.0.1:{PORT}", "content-type": "application/json", "x-tab": "one"}
    if cookie:
        headers["cookie"] = f"{door.cookie}={door.session}"
    path, _, query = path.partition("?")
    scope = {
        "type": "http", "path": path, "raw_path": path.encode(), "query_string": query.encode(),
        "method": "GET" if body is None and receive is None else "POST", "http_version": "1.1",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
    }  # fmt: skip
    answers: list[dict[str, Any]] = []

    async def sent(message: dict[str, Any]) -> None:
        answers.append(message)

    async def whole() -> dict[str, Any]:
        content = b"" if body is None else json.dumps(body).encode()
        return {"type": "http.request", "body": content, "more_body": False}

    await app(scope, receive or whole, sent)
    return answers[0]["status"], b"".join(each.get("body", b"") for each in answers[1:])


def _grown(work: Callable[[], None]) -> int:
    """Bytes that work leaves behind, once it was done a first time."""
    work()
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        work()
        return tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()


def test_a_strangers_body_is_not_even_read(owner: TestClient, door: Door) -> None:
    async def never() -> dict[str, Any]:
        raise AssertionError("the body was read")

    status, _ = asyncio.run(_asked(owner.app, door, "/api/change", never, cookie=False))
    assert status == 401


def test_fifty_slow_bodies_hold_little_and_nobody_up(
    owner: TestClient, door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("render.page.guard.BODY_S", 0.5)

    async def scene() -> list[int]:
        async def trickle() -> dict[str, Any]:
            await asyncio.sleep(0.05)
            return {"type": "http.request", "body": b" " * 512, "more_body": True}

        slow = [asyncio.create_task(_asked(owner.app, door, "/api/change", trickle))
                for _ in range(50)]  # fmt: skip
        await asyncio.sleep(0.1)
        status, _ = await _asked(owner.app, door, "/api/set")
        assert status == 200
        assert not any(each.done() for each in slow)
        return [each[0] for each in await asyncio.gather(*slow)]

    assert set(asyncio.run(scene())) == {408}


def test_one_huge_piece_is_refused(owner: TestClient, door: Door) -> None:
    async def huge() -> dict[str, Any]:
        return {"type": "http.request", "body": bytes(MOST_BYTES + 1), "more_body": True}

    assert asyncio.run(_asked(owner.app, door, "/api/try", huge))[0] == 413


def test_fifty_at_once_all_get_the_same_set(owner: TestClient, door: Door) -> None:
    async def scene() -> list[tuple[int, bytes]]:
        return await asyncio.gather(*(_asked(owner.app, door, "/api/set") for _ in range(50)))

    answers = asyncio.run(scene())
    assert {status for status, _ in answers} == {200}
    assert len({body for _, body in answers}) == 1


def test_of_a_flood_of_tries_the_newest_is_worked_out(
    owner: TestClient, held: Session, door: Door
) -> None:
    async def scene() -> list[tuple[int, bytes]]:
        return await asyncio.gather(*(
            _asked(owner.app, door, "/api/try", body={
                "version": 1, "number": k, "keys": {"light.key.distance_m": 1 + k / 100}})
            for k in range(40)
        ))  # fmt: skip

    answers = [(status, json.loads(body)) for status, body in asyncio.run(scene())]
    worked = [body for status, body in answers if status == 200]
    assert {status for status, _ in answers} <= {200, 409}
    assert all(body["overtaken"] for status, body in answers if status == 409)
    assert worked
    for tab in range(10 * MOST_TRYING):
        held.trials._queued(f"tab {tab}")
    assert len(held.trials._newest) == MOST_TRYING


def test_of_fifty_listeners_only_so_many_are_held(owner: TestClient, held: Session) -> None:
    async def scene() -> int:
        streams = [held.hub.listen(lambda: False) for _ in range(50)]  # all let in together
        here = await asyncio.gather(*(anext(each, None) for each in streams))
        assert held.hub.full
        for each in streams:
            await each.aclose()
        return len([each for each in here if each])

    assert asyncio.run(scene()) == MOST_TABS
    assert not held.hub.full


def test_a_listener_that_does_not_listen_holds_little() -> None:
    async def scene() -> int:
        hub = Hub()
        stream = hub.listen(lambda: False)
        await anext(stream)
        for k in range(20 * MOST_WAITING):
            hub.tell("frame", k)
        await asyncio.sleep(0)
        waiting = next(iter(hub._tabs)).qsize()
        newest = [await anext(stream) for _ in range(waiting)][-1]
        assert str(20 * MOST_WAITING - 1) in newest
        await stream.aclose()
        return waiting

    assert asyncio.run(scene()) == MOST_WAITING


def test_jobs_beyond_the_few_are_refused_while_one_is_done() -> None:
    queue, begun, may_go = Queue(None, None, _deaf()), threading.Event(), threading.Event()

    def long(_: Any) -> bool:
        begun.set()
        return may_go.wait(SECONDS)

    queue.start()
    asking = [threading.Thread(target=queue.ask, args=(long,)) for _ in range(1 + MOST_JOBS)]
    asking[0].start()
    assert begun.wait(SECONDS)
    for each in asking[1:]:
        each.start()
    while len(queue.jobs.soon) < MOST_JOBS:
        threading.Event().wait(0.001)
    for _ in range(50):
        with pytest.raises(EngineError, match="too much"):
            queue.ask(long)
    may_go.set()
    for each in asking:
        each.join(SECONDS)
    assert queue.ask(lambda _: 7) == 7
    queue.end()


def _deaf() -> Ears:
    return Ears(lambda _: None, lambda _: None, lambda _: None, lambda _: None)
