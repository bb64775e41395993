"""Lessons read, bundled ones by name or a file of one's own, with the series that each makes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from render.errors import LessonError, OutputError
from render.folders import data_folder, lesson_names
from render.scenefile.parse import is_file, read_part
from render.series.cells import Series, read_series
from render.series.variables import OPTION
from render.studio.lesson import SHOWN, Lesson


@dataclass(frozen=True, slots=True)
class Lecture:
    """A lesson and the cells that it shows."""

    name: str  # of its file, without suffix
    lesson: Lesson
    series: Series

    @property
    def lead(self) -> tuple[str, ...]:
        """Paragraphs under its title: what to look for, and the question."""
        asked = (f"Question: {self.lesson.question}",) if self.lesson.question else ()
        return (" ".join(self.lesson.look_for), *asked)


def read_lesson(path: str | Path) -> Lecture:
    """Read a lesson file, or a bundled lesson by its name, and make its cells.

    Raises LessonError, SceneError, KitError, and OutputError naming the lesson and its cell.
    """
    file = _find(Path(path))
    lesson = read_part(file, Lesson, LessonError)
    try:
        series = read_series(_scene_of(file, lesson), list(lesson.vary))
    except OutputError as problem:
        said = str(problem)
        said = f"vary: {said.removeprefix(f'{OPTION}: ')}" if said.startswith(OPTION) else said
        raise OutputError(f"{file.name}: {said}") from None
    _check_shown(file, lesson, series)
    return Lecture(file.stem, lesson, replace(series, scene=lesson.title))


def _find(path: Path) -> Path:
    if is_file(path):
        return path
    bundled = data_folder("scenes") / "lessons" / f"{path}.toml"
    if path.suffix == "" and is_file(bundled):
        return bundled
    names = ", ".join(lesson_names())
    raise LessonError(
        path, "", "no such file", f"a lesson file, list, or a bundled lesson: {names}"
    )


def _scene_of(file: Path, lesson: Lesson) -> Path:
    """The scene beside a lesson's file, or a bundled one, which has no suffix."""
    named = Path(lesson.scene)
    beside = file.parent / named
    if is_file(beside):
        return beside
    if named.suffix:
        raise LessonError(
            file, "scene", f'no file "{lesson.scene}"', "a scene's path from the lesson, or a name"
        )
    return named


def _check_shown(file: Path, lesson: Lesson, series: Series) -> None:
    """Raise LessonError for a figure that no caption has."""
    wishes = series.cells[0].setup.scene.wanted.items()
    known = [*SHOWN, *(name for name, wish in wishes if wish.light != "all")]
    for name in lesson.show:
        if name not in known:
            raise LessonError(file, "show", f'found "{name}"', f"accepted: {', '.join(known)}")
