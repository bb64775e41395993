"""What the page answers: plain data, a file, or one sentence with the right number."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote

from starlette.responses import JSONResponse, Response

from render.errors import EngineError, TenthstopError
from render.page.conflicts import ConflictError, RefusedError
from render.page.exports import Download
from render.page.making import UnmadeError
from render.page.session import Session
from render.page.trials import OvertakenError


def answer(
    session: Session, work: Callable[[Mapping[str, Any]], dict[str, Any] | Download], body: bytes
) -> Response:
    """Do what a POST asks; a user's mistake is one sentence."""
    try:
        found = work(asked_in(body))
        return _file(found) if isinstance(found, Download) else JSONResponse(found)
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


def asked_in(body: bytes) -> Mapping[str, Any]:
    """What a request says; raises TenthstopError unless it is a JSON object."""
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise TenthstopError("the request is not a JSON object")
    return found


def download(work: Callable[[Mapping[str, str]], Download], said: Mapping[str, str]) -> Response:
    """A file to keep; a user's mistake is one sentence."""
    try:
        made = work(said)
    except TenthstopError as problem:
        return JSONResponse(
            {"error": str(problem)}, 503 if isinstance(problem, EngineError) else 422
        )
    return _file(made)


def _file(made: Download) -> Response:
    name = quote(made.name, safe="")
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(made.content, media_type=made.media, headers=headers)


def plainly(work: Callable[[], dict[str, Any]]) -> Response:
    """What a GET asks for; while the sitter of a set just opened is being made, that is said."""
    try:
        return JSONResponse(work())
    except UnmadeError as problem:
        return JSONResponse({"error": str(problem), "making": True}, 503)
