"""Nobody but the browser that was opened, on this address, gets anything from the page."""

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from render.page.app import STATIC, make_app
from render.page.guard import MOST_BYTES, Door, guarded
from tests.unit.page.scenes import HERE, PORT, TAB, client, session

JSON = {"Content-Type": "application/json"}


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return client(session(tmp_path_factory.mktemp("guard")))


@pytest.fixture
def stranger(browser: TestClient) -> TestClient:
    return TestClient(browser.app, base_url=HERE, headers=TAB)


@pytest.mark.parametrize("path", ["/", "/api/set", "/static/main.js", "/api/events", "/nowhere"])
def test_without_the_cookie_nothing_is_told(stranger: TestClient, path: str) -> None:
    answer = stranger.get(path)
    assert answer.status_code == 401
    assert list(answer.json()) == ["error"]


def test_without_the_cookie_nothing_is_done(browser: TestClient, stranger: TestClient) -> None:
    body = {"version": 1, "keys": {"light.key.power": "1/8"}}
    assert stranger.post("/api/change", json=body).status_code == 401
    assert browser.get("/api/set").json()["version"] == 1


@pytest.mark.parametrize("token", ["", "x", "é", "0" * 32])
def test_a_wrong_token_gives_no_cookie(stranger: TestClient, token: str) -> None:
    answer = stranger.get("/", params={"token": token}, follow_redirects=False)
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers


def test_the_token_is_left_for_a_strict_cookie(tmp_path: Path) -> None:
    door = Door("127.0.0.1", PORT)
    browser = TestClient(make_app(session(tmp_path), door), base_url=HERE)
    answer = browser.get(f"/?token={door.token}", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert door.token not in answer.headers["set-cookie"]


def test_every_start_has_its_own_secrets() -> None:
    secrets = [
        part for _ in range(2) for d in [Door("127.0.0.1", 1)] for part in (d.token, d.session)
    ]
    assert len(set(secrets)) == 4
    assert min(len(part) for part in secrets) >= 32  # 24 random bytes, 192 bits


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", "", "localhost"]
)
def test_another_host_name_is_refused(browser: TestClient, host: str) -> None:
    # A name that is made to point at this machine (DNS rebinding) keeps its own Host header.
    assert browser.get("/api/set", headers={"Host": host}).status_code == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://127.0.0.1:{PORT}"])
def test_another_origin_is_refused(browser: TestClient, origin: str) -> None:
    answer = browser.post("/api/undo", json={"version": 1}, headers={"Origin": origin})
    assert answer.status_code == 403


def test_the_own_origin_is_heard(browser: TestClient) -> None:
    assert browser.get("/api/set", headers={"Origin": HERE}).status_code == 200


def test_a_form_of_another_page_cannot_post(browser: TestClient, stranger: TestClient) -> None:
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        sent = browser.post("/api/undo", content=b"{}", headers={"Content-Type": kind})
        assert sent.status_code == 415
    unnamed = TestClient(browser.app, base_url=HERE, cookies=browser.cookies)
    assert unnamed.post("/api/undo", json={"version": 1}).status_code == 400


def test_a_large_body_is_refused_stated_or_not(browser: TestClient) -> None:
    def parts() -> Iterator[bytes]:
        for _ in range(MOST_BYTES // 1024 + 1):
            yield b" " * 1024

    stated = browser.post("/api/undo", content=b" " * (MOST_BYTES + 1), headers=JSON)
    unstated = browser.post("/api/undo", content=parts(), headers=JSON)
    odd = browser.post("/api/undo", content=b"{}", headers={**JSON, "Content-Length": "-1"})
    assert [stated.status_code, unstated.status_code, odd.status_code] == [413, 413, 413]
    assert browser.post("/api/undo", content=b" " * MOST_BYTES, headers=JSON).status_code == 422


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/..%5capp.py",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/static/",
        "/static/main.js%00.html",
        "/app.py",
    ],
)
def test_no_other_file_is_served(browser: TestClient, path: str) -> None:
    answer = browser.get(path)
    assert answer.status_code == 404
    assert list(answer.json()) == ["error"]


def test_the_page_itself_is_served(browser: TestClient) -> None:
    assert browser.get("/").content == (STATIC / "index.html").read_bytes()
    script = browser.get("/static/main.js")
    assert script.content == (STATIC / "main.js").read_bytes()
    assert script.headers["content-type"].startswith("text/javascript")


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(browser: TestClient, method: str) -> None:
    assert browser.request(method, "/api/set").status_code == 405


@pytest.mark.parametrize("path", ["/", "/api/set", "/static/main.js", "/nowhere"])
def test_every_answer_has_the_headers(browser: TestClient, stranger: TestClient, path: str) -> None:
    # Names and values as OWASP's cheat sheet on HTTP headers gives them, from memory.
    for answer in (browser.get(path), stranger.get(path)):
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'self';")
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "access-control-allow-origin" not in answer.headers


def test_a_body_that_trickles_in_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("render.page.guard.BODY_S", 0.02)
    door, answers = Door("127.0.0.1", PORT), []

    async def never(*_: object) -> None:
        raise AssertionError("the request reached the page")

    async def receive() -> dict[str, object]:
        await asyncio.sleep(0.005)  # a byte now and then, without end
        return {"type": "http.request", "body": b"x", "more_body": True}

    async def send(message: dict[str, object]) -> None:
        answers.append(message)

    headers = {
        "host": f"127.0.0.1:{PORT}",
        "cookie": f"{door.cookie}={door.session}",
        "content-type": "application/json",
        "x-tab": "one",
    }
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/api/change",
        "query_string": b"",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
    }
    asyncio.run(guarded(never, door)(scope, receive, send))  # type: ignore[arg-type]
    assert answers[0]["status"] == 408
