"""A TOML file as a checked model, or one sentence on what is wrong with it."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from render.errors import KitError, LessonError, ReadingsError, RecipeError, SceneError
from render.scenefile.fields import accepted, part_of
from render.studio.part import Part

MOST_BYTES = 4_000_000  # a thousand times a scene; four seconds to read
P = TypeVar("P", bound=Part)
FileError = (
    type[SceneError] | type[KitError] | type[ReadingsError] | type[LessonError] | type[RecipeError]
)


def is_file(path: Path) -> bool:
    """Whether there is such a file."""
    try:
        return path.is_file()
    except OSError:  # a name too long, or a folder that cannot be entered
        return False


def read_part(file: Path, model: type[P], error: FileError) -> P:
    """Read a TOML file into a model, or raise `error` with one sentence."""
    return as_part(file, read_tables(file, error), model, error)


def check_file(file: Path, error: FileError) -> None:
    """Raise `error` for a pipe, which would keep us waiting, and for a file without end."""
    if file.exists() and not file.is_file():
        raise error(file, "", "not a file", "a text file that can be read")
    if file.exists() and file.stat().st_size > MOST_BYTES:
        raise error(file, "", "too large", f"at most {MOST_BYTES // 1_000_000} MB")


def read_tables(file: Path, error: FileError) -> dict[str, Any]:
    """The tables of a TOML file as they stand there, or raise `error` with one sentence."""
    try:
        check_file(file, error)
        return tables_in(file.read_text(encoding="utf-8-sig"))
    except tomllib.TOMLDecodeError as problem:
        raise error(file, "", f"not valid TOML: {problem}", "mend that line") from None
    except UnicodeDecodeError:
        raise error(file, "", "not a text file", "a TOML file in UTF-8") from None
    except (OSError, ValueError) as problem:  # ValueError: a name with a zero byte
        reason = getattr(problem, "strerror", None) or "cannot be read"
        raise error(file, "", reason.lower(), "a TOML file that can be read") from None


def tables_in(text: str) -> dict[str, Any]:
    """The tables of a TOML text; raises TOMLDecodeError, also for what nobody writes by hand."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise tomllib.TOMLDecodeError("tables or lists lie too deep in each other") from None
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:  # the interpreter refuses to read such digits, and to show them
        raise tomllib.TOMLDecodeError("a number of thousands of digits") from None


def as_part(file: Path, found: dict[str, Any], model: type[P], error: FileError) -> P:
    """Tables of a file as a checked model, or raise `error` with one sentence."""
    try:
        return model.model_validate(found)
    except ValidationError as problems:
        first = problems.errors()[0]
        key, what, wanted = sentence(model, first)
        raise error(file, key, what, wanted) from None


def sentence(model: type[Part], problem: ErrorDetails) -> tuple[str, str, str]:
    """Key, what was found and what would be accepted, for one validation problem."""
    path: list[str] = []
    part: type[Part] | None = model
    owner, field = model, ""
    trail = list(problem["loc"])
    if trail[-1] == "[key]":  # the name of a table, not a value in it
        shown = _shown(problem["input"])
        return str(trail[0]), f"found the name {shown}", "accepted: letters, digits, - and _"
    while trail and part is not None:
        owner, field = part, str(trail.pop(0))
        path.append(field)
        info = owner.model_fields.get(field)
        part, held = part_of(info.annotation) if info else (None, "")
        if held in ("named", "list") and trail:
            step = trail.pop(0)
            path[-1] = f"{field}[{step}]" if held == "list" else path[-1]
            path += [str(step)] if held == "named" else []
    key = ".".join(path)
    info = owner.model_fields.get(field)
    if info is None:
        return key, "unknown key", _nearest(field, owner)
    words = accepted(field, info)
    if words.startswith(("text", "a list of texts")) and info.description:
        words = f"{words}; {info.description}"  # where names are wanted, it lists them
    if problem["type"] == "missing" and not trail:
        return key, "missing", f"write {words}"
    return key, f"found {_shown(problem['input'])}", f"accepted: {words}"


def _nearest(field: str, owner: type[Part]) -> str:
    known = list(owner.model_fields)
    near = difflib.get_close_matches(field, known, n=1, cutoff=0.5)
    if near:
        return f"did you mean {near[0]}?"
    return "known keys: " + ", ".join(known)


def _shown(found: Any) -> str:
    found = list(found) if isinstance(found, tuple) else found
    if isinstance(found, bool):
        return str(found).lower()
    try:
        text = repr(found) if isinstance(found, str) else str(found)
    except (ValueError, RecursionError):  # thousands of digits, or as many levels
        return "a value too long to show"
    return text.replace("'", '"') if len(text) <= 60 else text[:57].replace("'", '"') + "..."
