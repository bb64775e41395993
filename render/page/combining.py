"""The combine page: pictures of the scene's folder laid over each other, the result made here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from anyio.to_thread import run_sync
from numpy.typing import NDArray
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from render.combine.making import make
from render.combine.recipe import BLACK_CODE, FADE, Element, Recipe, Region
from render.combine.regions import shown
from render.combine.written import words_of, write_recipe, write_result
from render.errors import RecipeError, TenthstopError
from render.page import album
from render.page.answers import asked_in
from render.page.exports import Download
from render.page.small import LONG_SIDE_PX, Small, Smalls
from render.scenefile.parse import as_part

SENT = "recipe"  # what a recipe that a page sends is called in a sentence
FORM = "application/octet-stream"


def combining(folder: Callable[[], Path], look: Callable[[], Download]) -> list[Route]:
    """The addresses of the combine page.

    folder : where the pictures lie, and the results; the scene's own
    look   : the present look of the scene; raises OutputError while there is none
    """
    smalls = Smalls()

    def got(path: str, work: Callable[[Mapping[str, list[str]]], Response]) -> Route:
        async def endpoint(request: Request) -> Response:
            said = {key: request.query_params.getlist(key) for key in request.query_params}
            return await run_sync(_plainly, lambda: work(said))

        return Route(f"/api/combine/{path}", endpoint)

    def posted(path: str, work: Callable[[Mapping[str, Any]], Response]) -> Route:
        async def endpoint(request: Request) -> Response:
            body = await request.body()
            return await run_sync(_plainly, lambda: work(asked_in(body)))

        return Route(f"/api/combine/{path}", endpoint, methods=["POST"])

    return [
        got("folder", lambda _: JSONResponse(_folder(folder()))),
        got("recipe", lambda said: JSONResponse(_recipe(folder(), _one(said, "name")))),
        got("black", lambda said: JSONResponse(_small(smalls, folder(), said).told)),
        got("picture", lambda said: _pixels(_small(smalls, folder(), said).planes)),
        posted("region", _region),
        posted("look", lambda _: JSONResponse({"saved": album.put(folder(), look())})),
        posted("save", lambda said: JSONResponse(_save(smalls, folder(), said))),
    ]


def _plainly(work: Callable[[], Response]) -> Response:
    """An answer; a user's mistake is one sentence."""
    try:
        return work()
    except TenthstopError as problem:
        return JSONResponse({"error": str(problem)}, 422)


def _one(said: Mapping[str, list[str]], key: str) -> str:
    return said.get(key, [""])[0]


def _folder(folder: Path) -> dict[str, Any]:
    """What there is to combine, and what an element is before anything is said of it."""
    fresh = Element(file="-").model_dump(mode="json")
    return {
        "pictures": album.pictures(folder),
        "recipes": album.recipes(folder),
        "black_code": BLACK_CODE,
        "fade": FADE,
        "fresh": fresh,
    }


def _recipe(folder: Path, name: str) -> dict[str, Any]:
    return album.recipe(folder, name).model_dump(mode="json")


def _small(smalls: Smalls, folder: Path, said: Mapping[str, list[str]]) -> Small:
    """The picture that an address asks for; raises RecipeError, PhotoError."""
    try:
        limit = float(_one(said, "limit") or BLACK_CODE)
    except ValueError:
        limit = BLACK_CODE
    element = {"file": _one(said, "name") or "-", "plates": said.get("plate", [])}
    tables = {"look": "-", "out": "-", "black_code": limit, "element": [element]}
    asked = as_part(Path(SENT), tables, Recipe, RecipeError)
    return smalls.small(
        folder, asked.element[0].file, list(asked.element[0].plates), asked.black_code
    )


def _pixels(planes: NDArray[np.float16]) -> Response:
    headers = {"X-Width": str(planes.shape[1]), "X-Height": str(planes.shape[0])}
    return Response(planes.tobytes(), media_type=FORM, headers=headers)


def _region(said: Mapping[str, Any]) -> Response:
    """Where regions let an element show, as float32 of a look of that size."""
    size = [said.get(key) for key in ("width", "height")]
    if not all(isinstance(each, int) and 0 < each <= LONG_SIDE_PX for each in size):
        raise TenthstopError(f"size: accepted: two whole numbers up to {LONG_SIDE_PX}")
    tables = {"file": "-", "region": said.get("region")}
    element = as_part(Path(SENT), tables, Element, RecipeError)
    weight = shown(element.region, (int(size[0] or 1), int(size[1] or 1)))
    if weight is None:
        raise TenthstopError(f"region: found none (accepted: tables of {Region.__name__.lower()}s)")
    return Response(weight.tobytes(), media_type=FORM)


def _save(smalls: Smalls, folder: Path, said: Mapping[str, Any]) -> dict[str, Any]:
    """Make the result at full size, and its recipe beside it; nothing is ever written over."""
    tables = said.get("recipe")
    if not isinstance(tables, dict):
        raise TenthstopError("recipe: found none (accepted: look and elements)")
    recipe = as_part(Path(SENT), {**tables, "out": str(said.get("name"))}, Recipe, RecipeError)
    if not recipe.element:
        raise RecipeError(SENT, "element", "found none", "accepted: one or more")
    album.check_inside(recipe, folder)
    with smalls.lock:
        out = album.new_result(folder, said.get("name"))
        made = make(recipe, folder)
        # A large picture takes half a minute: somebody else may have written meanwhile.
        album.new_result(folder, said.get("name"))
        write_result(out, made.linear, words_of(recipe))
        beside = write_recipe(out.with_suffix(album.RECIPE), recipe, folder)
    return {"saved": [out.name, beside.name], "report": asdict(made.report)}
