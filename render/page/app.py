"""The addresses of the page and what each answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from anyio.to_thread import run_sync
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    JSONResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route
from starlette.types import ASGIApp

from render.errors import EngineError, TenthstopError
from render.page.choices import choices
from render.page.conflicts import ConflictError, RefusedError
from render.page.exports import Download, look_png
from render.page.guard import CLOSED, TAB, Door, guarded, same
from render.page.making import UnmadeError
from render.page.session import Session
from render.page.trials import OvertakenError

MOST_WORD = 80  # letters of a merge word
STATIC = Path(__file__).parent / "static"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".json": "application/json",
    ".txt": "text/plain; charset=utf-8",
    ".woff2": "font/woff2",
}


def make_app(session: Session, door: Door, ending: Callable[[], bool] = lambda: False) -> ASGIApp:
    """The page of a session behind its door.

    ending : whether the program is about to end, so that streams end too
    """
    files = static_files(STATIC)

    async def entrance(request: Request) -> Response:
        token = request.query_params.get("token")
        if token is not None:
            return _let_in(token, door)
        return _file(files, "index.html")

    async def static(request: Request) -> Response:
        return _file(files, request.path_params["name"])

    async def now(request: Request) -> Response:
        return await run_sync(_plainly, session.now)

    async def chosen(request: Request) -> Response:
        return await run_sync(_plainly, lambda: choices(session.setup.kit))

    async def tried(request: Request) -> Response:
        tab = request.headers[TAB]
        return await run_sync(
            _answer, session, lambda said: _tried(session, said, tab), await request.body()
        )

    async def frame(request: Request) -> Response:
        light, digest = request.path_params["light"], request.query_params.get("digest", "")
        return await run_sync(_frame, session, light, digest)

    async def events(request: Request) -> Response:
        if session.hub.full:
            raise HTTPException(503, "too many tabs are open")
        return StreamingResponse(session.hub.listen(ending), media_type="text/event-stream")

    def does(work: Callable[[Mapping[str, Any]], dict[str, Any]]) -> Callable[..., Any]:
        async def endpoint(request: Request) -> Response:
            return await run_sync(_answer, session, work, await request.body())

        return endpoint

    def posted(path: str, work: Callable[[Mapping[str, Any]], dict[str, Any]]) -> Route:
        return Route(path, does(work), methods=["POST"])

    def exported(path: str, work: Callable[[Mapping[str, str]], Download]) -> Route:
        async def endpoint(request: Request) -> Response:
            return await run_sync(_download, work, dict(request.query_params))

        return Route(path, endpoint)

    routes = [
        Route("/", entrance),
        Route("/static/{name:path}", static),
        Route("/api/set", now),
        Route("/api/choices", chosen),
        Route("/api/try", tried, methods=["POST"]),
        Route("/api/frame/{light}", frame),
        Route("/api/events", events),
        exported("/api/export/look.png", lambda _: look_png(session.subject())),
        exported("/api/export/card.pdf", lambda said: _card(session, said)),
        posted("/api/change", lambda said: _changed(session, said)),
        posted("/api/add", lambda said: _added(session, said)),
        posted("/api/remove", lambda said: _removed(session, said)),
        posted("/api/undo", lambda said: session.undo(said.get("version"))),
        posted("/api/redo", lambda said: session.redo(said.get("version"))),
        posted("/api/save", lambda said: _saved(session, said)),
        posted("/api/reload", lambda said: session.reload(said.get("version"))),
        posted("/api/merge", lambda said: _merged(session, said)),
        posted("/api/balance", lambda said: session.balance(said.get("version"))),
    ]
    handlers = {HTTPException: _refused, Exception: _stumbled}
    app = Starlette(routes=routes, exception_handlers=handlers)
    return guarded(app, door)


def static_files(folder: Path) -> dict[str, Path]:
    """Every file that may be served, by its name in the address; nothing else ever is."""
    return {
        path.relative_to(folder).as_posix(): path
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix in TYPES and not path.is_symlink()
    }


def _let_in(token: str, door: Door) -> Response:
    if not same(token, door.token):
        return JSONResponse({"error": CLOSED}, 401)
    answer = RedirectResponse("/", 303)
    answer.set_cookie(door.cookie, door.session, httponly=True, samesite="strict")
    return answer


def _file(files: Mapping[str, Path], name: str) -> Response:
    if name not in files:
        raise HTTPException(404, "there is no such file")
    return FileResponse(files[name], media_type=TYPES[files[name].suffix])


def _frame(session: Session, light: str, digest: str) -> Response:
    pixels = session.pixels(light, digest)
    if pixels is None:
        return JSONResponse({"error": "this picture is not traced yet"}, 404)
    height, width = pixels.shape[:2]
    headers = {"X-Width": str(width), "X-Height": str(height)}
    return Response(pixels.tobytes(), media_type="application/octet-stream", headers=headers)


def _answer(
    session: Session, work: Callable[[Mapping[str, Any]], dict[str, Any]], body: bytes
) -> Response:
    """Do what a POST asks; a user's mistake is one sentence."""
    try:
        return JSONResponse(work(_said(body)))
    except ConflictError as problem:
        return JSONResponse(_conflict(session, problem), 409)
    except OvertakenError as problem:
        return JSONResponse({"error": str(problem), "overtaken": True}, 409)
    except UnmadeError as problem:
        return JSONResponse({"error": str(problem), "making": True}, 503)
    except RefusedError as problem:
        return JSONResponse({"error": str(problem), "instead": problem.instead}, 422)
    except EngineError as problem:
        return JSONResponse({"error": str(problem)}, 503)
    except TenthstopError as problem:
        return JSONResponse({"error": str(problem)}, 422)


def _conflict(session: Session, problem: ConflictError) -> dict[str, Any]:
    """What a tab is told that was overtaken: the sentence, and how things stand now."""
    if problem.on_disk:
        both = {} if problem.both is None else {"both": problem.both}
        return {"error": str(problem), "disk": True, **both}
    return {"error": str(problem), "set": session.now()}


def _said(body: bytes) -> Mapping[str, Any]:
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise TenthstopError("the request is not a JSON object")
    return found


def _card(session: Session, said: Mapping[str, str]) -> Download:
    return session.card(said.get("paper", "a4"), said.get("look", "1") == "1")


def _download(work: Callable[[Mapping[str, str]], Download], said: Mapping[str, str]) -> Response:
    """A file to keep; a user's mistake is one sentence."""
    try:
        made = work(said)
    except TenthstopError as problem:
        return JSONResponse(
            {"error": str(problem)}, 503 if isinstance(problem, EngineError) else 422
        )
    name = quote(made.name, safe="")
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(made.content, media_type=made.media, headers=headers)


def _plainly(work: Callable[[], dict[str, Any]]) -> Response:
    """What a GET asks for; while the sitter of a set just opened is being made, that is said."""
    try:
        return JSONResponse(work())
    except UnmadeError as problem:
        return JSONResponse({"error": str(problem), "making": True}, 503)


def _changed(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    merge = said.get("merge", "")
    if not isinstance(merge, str) or len(merge) > MOST_WORD:
        raise TenthstopError(f"merge: found no word (accepted: at most {MOST_WORD} letters)")
    return session.change(said.get("version"), _keys(said), merge)


def _added(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    keys = said.get("keys", {})
    if not isinstance(keys, dict):
        raise TenthstopError('keys: accepted: such as {"modifier": "softbox-60x90"}')
    return session.add(said.get("version"), said.get("what"), said.get("name"), keys)


def _removed(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    return session.remove(said.get("version"), said.get("what"), said.get("name"))


def _tried(session: Session, said: Mapping[str, Any], tab: str) -> dict[str, Any]:
    number = said.get("number") if isinstance(said.get("number"), int) else None
    found = session.trial(said.get("version"), _keys(said), tab)
    return {"version": said.get("version"), "number": number, "set": found}


def _saved(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    return session.save(said.get("version"), said.get("as"), said.get("over") is True)


def _merged(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    take = said.get("take", {})
    if not isinstance(take, dict):
        raise TenthstopError('take: accepted: such as {"light.key.power": "mine"}')
    return session.merge(said.get("version"), take)


def _keys(said: Mapping[str, Any]) -> Mapping[str, Any]:
    keys = said.get("keys")
    if not isinstance(keys, dict) or not keys:
        raise TenthstopError('keys: found none (accepted: such as {"light.key.power": "1/8"})')
    return keys


async def _refused(request: Request, problem: Exception) -> Response:
    assert isinstance(problem, HTTPException)
    return JSONResponse({"error": problem.detail}, problem.status_code)


async def _stumbled(request: Request, problem: Exception) -> Response:
    """A mistake of the program's own: the tab gets a sentence, the terminal the rest."""
    words = f"the program made a mistake ({type(problem).__name__}); the terminal says more"
    return JSONResponse({"error": words}, 500)
