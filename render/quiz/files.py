"""The set-up behind every question as a scene file, and questions kept while a quiz is made."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict
from pathlib import Path
from typing import Any

import tomlkit

from render.folders import cache_folder
from render.picture.files import write_whole
from render.quiz.draw import Asked
from render.quiz.questions import Answer, Line, Question
from render.quiz.scenes import Given, Tables, with_keys
from render.quiz.settle import Source

FORM = 3  # of what is kept; raise it when the same seed gives other set-ups


def write_scene(folder: Path, given: Given, question: Question, seed: int) -> Path:
    """Write a question's set-up, ready to be opened with every command. Raises OutputError."""
    tables = question.tables
    text = "\n".join(
        [
            f"# Question {question.number} of sheet {seed}, from {given.file.name}: "
            f"{question.change}.",
            f"# Answer: {answer_words(question)}.",
            tomlkit.dumps(_in_order(_from_folder(tables, given.file.parent, folder))),
        ]
    )
    path = folder / f"{question.number:02d}.toml"
    return write_whole(path, lambda part: part.write_text(text, encoding="utf-8"))


def answer_words(question: Question) -> str:
    """The answers in one line."""
    return ", ".join(f"{each.name} {each.shown}" for each in question.answers)


def _from_folder(tables: Tables, old: Path, new: Path) -> Tables:
    """Files beside the given scene, named from another folder."""
    keys: dict[str, Any] = {}
    if "kit" in tables:
        keys["kit"] = [_moved(name, old, new) for name in tables["kit"]]
    if "mesh" in tables.get("sitter", {}):
        keys["sitter.mesh"] = _moved(tables["sitter"]["mesh"], old, new)
    return with_keys(tables, keys)


def _moved(name: str, old: Path, new: Path) -> str:
    return Path(os.path.relpath((old / name).resolve(), new.resolve())).as_posix()


def _in_order(tables: Tables) -> Tables:
    """Single keys before tables, as TOML wants them."""
    single = {k: v for k, v in tables.items() if not isinstance(v, dict)}
    parts = {k: _in_order(v) for k, v in tables.items() if isinstance(v, dict)}
    return single | parts


def kept_file(source: Source, asked: Asked, number: int, bounce: bool) -> Path:
    """Where a drawn question is kept, by all that decides it."""
    given = source.given
    kit = given.setup.kit.model_dump_json()
    said = json.dumps([FORM, given.tables, kit, asdict(asked), number, bounce], default=str)
    name = hashlib.blake2b(said.encode(), digest_size=16).hexdigest()
    return cache_folder("quiz") / f"{name}.json"


def keep(file: Path, question: Question) -> None:
    """Keep a drawn question, so that a stopped quiz goes on."""
    file.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(asdict(question))
    text = f"{_sum(text)}\n{text}"
    write_whole(file, lambda part: part.write_text(text, encoding="utf-8"), lasting=False)


def kept(file: Path) -> Question | None:
    """A question that was drawn before; None where there is none, or not as it was kept."""
    try:
        said, _, text = file.read_text(encoding="utf-8").partition("\n")
    except (OSError, ValueError):
        return None
    if said != _sum(text):
        return None
    found = json.loads(text)
    mark = found["mark"]
    return Question(
        **found
        | {
            "lines": tuple(
                Line(each["before"], tuple(each["choices"]), each["after"])
                for each in found["lines"]
            ),
            "answers": tuple(Answer(**each) for each in found["answers"]),
            "mark": None if mark is None else (mark[0], mark[1]),
        }
    )


def _sum(text: str) -> str:
    """By which a kept question is known to be whole."""
    return hashlib.blake2b(text.encode("utf-8", "replace"), digest_size=16).hexdigest()
