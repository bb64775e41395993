"""What can go wrong, said in one sentence a photographer can act on.

TenthstopError
├── SceneError    a scene file, or a value in it
├── KitError      a kit file, or a value in it
├── ReadingsError a file of meter readings, or a value in it
├── LessonError   a lesson file, or a value in it
├── RecipeError   a recipe of combined pictures, or a value in it
├── PhotoError    a picture that is to be combined
├── MeshError     the head data or a sitter's name
├── EngineError   the render engine cannot run or died
├── ViewError     the set cannot be drawn on this machine
└── OutputError   a result cannot be written
"""

from __future__ import annotations

from pathlib import Path

MOST_SHOWN = 300  # letters of a key, or of what was found, that a sentence repeats
MOST_SAID = 1500  # letters of a sentence


class TenthstopError(Exception):
    """Base of every error that a user can cause or cure; its text is one sentence, on one line."""

    def __init__(self, words: str) -> None:
        super().__init__(_one_line(short(words, MOST_SAID)))


class _FileError(TenthstopError):
    """An error in a file: file, key, what was found, what would be accepted."""

    def __init__(self, file: Path | str, key: str, found: str, accepted: str) -> None:
        self.file, self.key, self.found, self.accepted = Path(file), key, found, accepted
        name = short(self.file.name)
        where = f"{name}: {short(key)}: " if key else f"{name}: "
        super().__init__(f"{where}{short(found)} ({accepted})")


def short(text: str, most: int = MOST_SHOWN) -> str:
    """The text, cut in its middle where it is longer than so many letters."""
    return text if len(text) <= most else f"{text[: most // 2]}...{text[3 - most // 2 :]}"


def _one_line(text: str) -> str:
    """The text with a space for each line break and other unprintable character."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


class SceneError(_FileError):
    """A scene file is missing, unreadable or says something impossible."""


class KitError(_FileError):
    """A kit file is missing, unreadable or contradicts itself."""


class ReadingsError(_FileError):
    """A file of meter readings is missing, unreadable or cannot be true."""


class LessonError(_FileError):
    """A lesson file is missing, unreadable or says something impossible."""


class RecipeError(_FileError):
    """A recipe of combined pictures is missing, unreadable or says something impossible."""


class PhotoError(_FileError):
    """A picture is missing, broken or of a kind that cannot be combined."""


class MeshError(TenthstopError):
    """The head data or a sitter's name is wrong."""


class EngineError(TenthstopError):
    """The render engine cannot run here, or stopped working."""


class ViewError(TenthstopError):
    """The set cannot be drawn here: no GL that works without a window."""


class OutputError(TenthstopError):
    """A result cannot be written where it was asked for."""
