"""Requests at random to the page of a small set, in this process."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any

from starlette.testclient import TestClient

from render.errors import TenthstopError
from render.page.app import make_app
from render.page.guard import Door
from render.page.session import Session
from tests.fuzz import seeds
from tests.fuzz.mutate import NUMBERS, TEXTS, VALUES, rebuilt, spoilt
from tests.unit.page.scenes import HERE, PORT, STOOL, session

POSTS: dict[str, dict[str, Any]] = {
    "change": {"version": 1, "keys": {"light.key.power": "1/8"}, "merge": "drag"},
    "try": {"version": 1, "keys": {"light.key.azimuth_deg": -40}, "number": 3},
    "add": {"version": 1, "what": "light", "name": "rim", "keys": {"distance_m": 1.2}},
    "remove": {"version": 1, "what": "light", "name": "fill"},
    "undo": {"version": 1},
    "redo": {"version": 1},
    "save": {"version": 1, "as": "two.toml"},
    "reload": {"version": 1},
    "merge": {"version": 1, "take": {"light.key.power": "mine"}},
    "balance": {"version": 1},
    "export/series": {"version": 1, "key": "light.key.distance_m", "values": [0.7, 1]},
    "export/series/stop": {},
    "combine/look": {},
    "combine/region": {"width": 20, "height": 10, "region": [{"points": [[0, 0], [1, 0], [1, 1]]}]},
    "combine/save": {
        "name": "made.png",
        "recipe": {"look": "look.png", "element": [{"file": "dust.png", "at": [0.5, 0.5]}]},
    },
}
KEYS = (
    *("light.key.distance_m", "light.key.on", "camera", "camera.f_number", "title", "kit"),
    *("wanted.face", "sitter.mesh", "point.stool.position_m", "a.b.c.d.e", "", "light", "room"),
)
GETS = (
    *("/", "/combine", "/static/main.js", "/static/../guard.py", "/static/%2e%2e/guard.py"),
    *("/static//etc/passwd", "/api/set", "/api/choices", "/api/frame/key", "/api/frame/%00"),
    *("/api/combine/folder", "/api/combine/recipe", "/api/combine/black", "/api/nothing"),
    *("/api/combine/picture", "/api/export/look.png", "/api/frame/../set", "/api//set", "/%2e%2e"),
)
QUERIES = ("name", "plate", "limit", "digest", "token", "paper")
# Answers that are meant; an answer of 500 is a mistake of the program's own.
MEANT = (200, 303, 304, 307, 400, 401, 403, 404, 405, 408, 409, 413, 415, 422, 503)


def requests(folder: Path) -> Callable[[Random], None]:
    """One request after the other; the set is opened anew after a hundred."""
    held: list[tuple[TestClient, str, Session]] = []
    count = 0

    def case(rng: Random) -> None:
        nonlocal count
        if count % 100 == 0:
            if held:
                held[0][2].queue.end()
            held[:] = [_opened(folder)]
        count += 1
        browser, cookie, _ = held[0]
        answer = _one(rng, browser, cookie)
        assert answer.status_code in MEANT, (answer.status_code, answer.text[:300])
        if answer.status_code >= 400:
            head = answer.request.method == "HEAD"
            words = "no body" if head else answer.json().get("error", "")
            assert words or answer.status_code in (405,), answer.text
            raise TenthstopError(words)

    return case


def _opened(folder: Path) -> tuple[TestClient, str, Session]:
    for file in folder.glob("*.toml"):
        file.unlink()
    for file in folder.glob("made*"):
        file.unlink()
    (folder / "look.png").write_bytes(seeds.encoded("PNG"))
    (folder / "dust.png").write_bytes(seeds.encoded("PNG", "RGBA"))
    (folder / "odd.exr").write_bytes(seeds.pictures()[-1][:300])
    (folder / "recipe.toml").write_bytes(seeds.RECIPE)
    door = Door("127.0.0.1", PORT)
    held = session(folder, STOOL)
    held.queue.start()  # without an engine
    app = make_app(held, door)
    browser = TestClient(app, base_url=HERE, follow_redirects=False)
    return browser, f"{door.cookie}={door.session}", held


def _one(rng: Random, browser: TestClient, cookie: str) -> Any:
    headers = {"X-Tab": "one", "Content-Type": "application/json", "Cookie": cookie}
    if rng.random() < 0.2:
        name = rng.choice(("Host", "Origin", "Cookie", "X-Tab", "Content-Type", "Content-Length"))
        word = rng.choice((*TEXTS, *NUMBERS))
        headers[name] = word.encode("latin-1", "replace").replace(b"\n", b" ").decode("latin-1")
        headers[name] = headers[name].replace("\0", " ")[:3000]
        headers[name] = headers[name].encode("ascii", "replace").decode()
    if rng.random() < 0.35:
        path = rng.choice(GETS)
        words = ("look.png", "odd.exr", "recipe.toml", "stool.toml", *TEXTS, *NUMBERS)
        query = {key: _sent(rng.choice(words)) for key in rng.sample(QUERIES, rng.randrange(3))}
        return browser.request(
            rng.choice(("GET", "GET", "GET", "HEAD", "PUT", "OPTIONS"))
            if rng.random() < 0.2
            else "GET",
            path,
            params=query,
            headers=headers,
        )
    path = rng.choice(list(POSTS))
    return browser.post(f"/api/{path}", content=_body(rng, browser, path, headers), headers=headers)


def _sent(word: str) -> str:
    return word.encode("utf-8", "replace").decode()[:2000]


def _body(rng: Random, browser: TestClient, path: str, headers: dict[str, str]) -> bytes:
    tree = json.loads(json.dumps(POSTS[path]))
    if path == "change" and rng.random() < 0.7:
        tree["keys"] = {
            rng.choice(KEYS): deepcopy(rng.choice((*VALUES, *TEXTS, {"size_cm": [2, 2]})))
        }
    if rng.random() < 0.7:
        try:
            tree = rebuilt(rng, tree)
        except ValueError:  # a number too long to be written down
            tree = {}
    if "version" in tree and rng.random() < 0.9:
        shown = browser.get("/api/set", headers={"Cookie": headers["Cookie"]})
        tree["version"] = shown.json().get("version") if shown.status_code == 200 else 1
    try:
        body = json.dumps(tree).encode("utf-8", "surrogatepass")
    except ValueError:
        body = b'{"version": 1' + b"0" * 5000 + b"}"
    if rng.random() < 0.15:
        body = spoilt(rng, body, [body, b"[" * 4000])
    return body
