"""`tenthstop quiz`: a sheet of questions for the class, and a key with computed answers."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from rich.console import Console

from render.cli.crews import crew
from render.cli.pictures import progress_bar, quality_of, writable
from render.cli.series import steps
from render.errors import OutputError
from render.quiz.draw import (
    Asked,
    NoQuestionError,
    drawn,
    kind_of,
    kinds_of,
    no_question,
    source_of,
)
from render.quiz.files import keep, kept, kept_file, write_scene
from render.quiz.key import write_key
from render.quiz.pictures import Pictured, frames_due, pictured
from render.quiz.questions import Question
from render.quiz.scenes import given_scene
from render.quiz.settle import Source
from render.quiz.sheets import SUFFIXES, write_class
from render.series.frames import check_space, on_disk
from render.trace import Crew, Engine, FrameStore, Readers, choose_engine

ROUNDS = 6  # of pictures that show a question to be none; a choice


@dataclass(frozen=True, slots=True)
class Wanted:
    """How a quiz is asked for."""

    out: Path
    paper: str
    quality: str
    size_px: int
    bounce: bool
    many: tuple[int | None, str]


def run_quiz(
    scene: str, questions: int, kinds: str, seed: int, wanted: Wanted, engine: str, as_json: bool
) -> None:
    """Draw the questions, trace their pictures, write both sheets and the scene files."""
    quality_of(wanted.quality)
    writable(wanted.out, SUFFIXES)
    folder = _folder(wanted.out)
    given = given_scene(scene)
    asked = Asked(questions, kinds_of(given, _names(kinds)), seed)
    if not kinds and "backdrop" not in asked.kinds:
        _say(f"No backdrop questions: {given.file.name} has no backdrop.")
    with crew(engine, *wanted.many) as running:
        source = source_of(given, running if wanted.bounce else None)
        asked, made = _made(source, asked, bool(kinds), wanted, engine, running)
    out = wanted.out
    written = write_class(out, made, seed, wanted.paper)
    title = given.setup.scene.title
    written += write_key(out.with_stem(f"{out.stem}.key"), made, title, seed, wanted.paper)
    for each in made:
        write_scene(folder, given, each.question, seed)
    if as_json:
        print(json.dumps(_report(source, asked, made, folder), indent=1, ensure_ascii=False))
    for path in [*written, folder]:
        print(path, file=sys.stderr if as_json else sys.stdout)


def _made(
    source: Source,
    asked: Asked,
    named: bool,
    wanted: Wanted,
    engine: str,
    running: Engine | Crew,
) -> tuple[Asked, list[Pictured]]:
    """The questions; a kind that nobody asked for by name is left out where none is found."""
    store = FrameStore()
    while True:
        try:
            return asked, _Maker(asked, wanted, engine, store).made(source, running)
        except NoQuestionError as problem:
            rest = tuple(kind for kind in asked.kinds if kind != problem.kind)
            if named or not rest:
                raise
            _say(f"No {problem.kind} questions from {source.given.file.name}: {problem.why}.")
            asked = replace(asked, kinds=rest)


def _say(words: str) -> None:
    Console(stderr=True).print(words, highlight=False, markup=False, soft_wrap=True)


def _names(kinds: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in kinds.split(",") if name.strip())


def _folder(out: Path) -> Path:
    """The folder of the scene files, beside the key; raises OutputError."""
    folder = out.with_name(f"{out.stem}.key")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise OutputError(f"{folder}: cannot be written: {reason}") from None
    writable(folder / "01.png")
    return folder


@dataclass(frozen=True, slots=True)
class _Maker:
    """Draws and traces until every question is one."""

    asked: Asked
    wanted: Wanted
    engine: str
    store: FrameStore

    def made(self, source: Source, running: Engine | Crew) -> list[Pictured]:
        """Every question with its picture, in order; raises OutputError, EngineError."""
        done: dict[int, Pictured] = {}
        first = dict.fromkeys(range(1, self.asked.count + 1), 0)
        for _ in range(ROUNDS):
            fresh = self._drawn(source, running, first)
            first = {}
            for each in self._pictured(source, fresh, running):
                number = each.question.number
                done[number] = each
                if each.refused:
                    first[number] = each.question.attempt + 1
                    _say(f"question {number} is drawn again: {each.refused}")
            if not first:
                break
        for number, each in sorted(done.items()):
            if each.refused:
                raise no_question(source, number, kind_of(self.asked, number), each.refused)
        return [done[number] for number in sorted(done)]

    def _drawn(self, source: Source, running: Readers, first: dict[int, int]) -> list[Question]:
        """Set-ups for questions, from a try on; those drawn before are taken as they are."""
        found: list[Question] = []
        meter = running if self.wanted.bounce else None
        with steps(len(first), "drawing set-ups") as told:
            for number, attempt in first.items():
                file = kept_file(source, self.asked, number, self.wanted.bounce)
                file = file.with_stem(f"{file.stem}-{attempt}")
                question = kept(file)
                if question is None:
                    question = drawn(source, self.asked, number, meter, attempt)
                    keep(file, question)
                found.append(question)
                told(len(found))
        return found

    def _pictured(
        self, source: Source, fresh: list[Question], running: Engine | Crew
    ) -> list[Pictured]:
        """The pictures of questions, with one bar for all of them."""
        quality, console = quality_of(self.wanted.quality), Console(stderr=True)
        name, size = choose_engine(self.engine).name, self.wanted.size_px
        due = frames_due(source.given, fresh, quality, size, self.store, name)
        check_space(due, self.store)
        said = f"{len(fresh)} pictures, {due.frames} light frames, {due.missing} of them to trace"
        console.print(f"{said}: {on_disk(due.missing_bytes)}.", highlight=False, soft_wrap=True)
        with progress_bar(console) as show:
            return list(
                pictured(
                    source.given,
                    fresh,
                    quality=quality,
                    long_side_px=size,
                    engine=running,
                    store=self.store,
                    expected_chunks=due.chunks,
                    progress=show,
                )
            )


def _report(source: Source, asked: Asked, made: Sequence[Pictured], folder: Path) -> dict[str, Any]:
    """The key as JSON."""
    rows = []
    for each in made:
        row = asdict(each.question)
        for name in ("tables", "attempt", "lines", "closer"):
            del row[name]
        row["choices"] = [list(line.choices) for line in each.question.lines if line.choices]
        row["scene_file"] = str(folder / f"{each.question.number:02d}.toml")
        rows.append(row)
    title = source.given.setup.scene.title
    return {"scene": title, "seed": asked.seed, "kinds": list(asked.kinds), "questions": rows}
