"""The addresses of the page and what each answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

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

from render.page import operations
from render.page.answers import answer, download, plainly
from render.page.asked import (
    added,
    card,
    changed,
    merged,
    removed,
    saved,
    series,
    stopped,
    tried,
)
from render.page.choices import choices
from render.page.combining import combining
from render.page.exports import Download, look_png
from render.page.guard import CLOSED, TAB, Door, guarded, same
from render.page.session import Session

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

    async def sheet(request: Request) -> Response:
        return _file(files, "combine.html")

    async def static(request: Request) -> Response:
        return _file(files, request.path_params["name"])

    async def now(request: Request) -> Response:
        return await run_sync(plainly, session.now)

    async def chosen(request: Request) -> Response:
        return await run_sync(plainly, lambda: choices(session.setup.kit))

    async def trying(request: Request) -> Response:
        tab = request.headers[TAB]
        return await run_sync(
            answer, session, lambda said: tried(session, said, tab), await request.body()
        )

    async def frame(request: Request) -> Response:
        light, digest = request.path_params["light"], request.query_params.get("digest", "")
        return await run_sync(_frame, session, light, digest)

    async def events(request: Request) -> Response:
        if session.hub.full:
            raise HTTPException(503, "too many tabs are open")
        return StreamingResponse(session.hub.listen(ending), media_type="text/event-stream")

    def does(work: Callable[[Mapping[str, Any]], dict[str, Any] | Download]) -> Callable[..., Any]:
        async def endpoint(request: Request) -> Response:
            return await run_sync(answer, session, work, await request.body())

        return endpoint

    def posted(path: str, work: Callable[[Mapping[str, Any]], dict[str, Any] | Download]) -> Route:
        return Route(path, does(work), methods=["POST"])

    def exported(path: str, work: Callable[[Mapping[str, str]], Download]) -> Route:
        async def endpoint(request: Request) -> Response:
            return await run_sync(download, work, dict(request.query_params))

        return Route(path, endpoint)

    routes = [
        Route("/", entrance),
        Route("/combine", sheet),
        Route("/static/{name:path}", static),
        Route("/api/set", now),
        Route("/api/choices", chosen),
        Route("/api/try", trying, methods=["POST"]),
        Route("/api/frame/{light}", frame),
        Route("/api/events", events),
        exported("/api/export/look.png", lambda _: look_png(session.subject(), coarse=True)),
        exported("/api/export/card.pdf", lambda said: card(session, said)),
        posted("/api/export/series", lambda said: series(session, said)),
        posted("/api/export/series/stop", lambda _: stopped(session)),
        posted("/api/change", lambda said: changed(session, said)),
        posted("/api/add", lambda said: added(session, said)),
        posted("/api/remove", lambda said: removed(session, said)),
        posted("/api/undo", lambda said: operations.undo(session, said.get("version"))),
        posted("/api/redo", lambda said: operations.redo(session, said.get("version"))),
        posted("/api/save", lambda said: saved(session, said)),
        posted("/api/reload", lambda said: operations.reload(session, said.get("version"))),
        posted("/api/merge", lambda said: merged(session, said)),
        posted("/api/balance", lambda said: operations.balance(session, said.get("version"))),
        *combining(lambda: session.document.folder, lambda: look_png(session.subject())),
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


async def _refused(request: Request, problem: Exception) -> Response:
    assert isinstance(problem, HTTPException)
    return JSONResponse({"error": problem.detail}, problem.status_code)


async def _stumbled(request: Request, problem: Exception) -> Response:
    """A mistake of the program's own: the tab gets a sentence, the terminal the rest."""
    words = f"the program made a mistake ({type(problem).__name__}); the terminal says more"
    return JSONResponse({"error": words}, 500)
