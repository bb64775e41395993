"""The scene file on disk: whether somebody else has changed it, and what comes of that."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tomlkit.exceptions import TOMLKitError

from render.errors import OutputError, SceneError, TenthstopError
from render.page.conflicts import ConflictError
from render.page.document import Document
from render.page.merging import Both, changes, contradictions, merged
from render.page.naming import content_of, stamps, tables_of

MOST_NAMED = 5  # keys in a sentence
CHOICES = ("mine", "theirs")


@dataclass(frozen=True, slots=True)
class OnDisk:
    """How the file stands against what was read of it."""

    state: str  # "same", "changed", "gone"; "none" without a file of its own
    words: str = ""
    keys: tuple[str, ...] = ()  # changed there
    both: tuple[str, ...] = ()  # changed there and here, to different values

    @property
    def told(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "state": self.state,
            "words": self.words,
            "keys": list(self.keys),
            "both": list(self.both),
        }


def stamp_of(document: Document) -> object:
    """Something that differs when the file was written; cheap to ask for."""
    target = document.target
    return None if target is None else (target, stamps(target, (target.name,)))


def on_disk(document: Document) -> OnDisk:
    """Look at the file."""
    if document.target is None:
        return OnDisk("none")
    name = document.target.name
    try:
        content = content_of(document.target)
        if content == document.on_disk:
            return OnDisk("same")
        if content is None:
            words = f"{name} is no longer there; what is on this page can be saved under a name."
            return OnDisk("gone", words)
        base, mine, theirs = (tables_of(text) for text in _texts(document, content))
    except (TenthstopError, tomllib.TOMLDecodeError) as problem:
        words = f"{name} was changed by another program and cannot be read: {problem}"
        return OnDisk("changed", words)
    keys, both = tuple(changes(base, theirs)), contradictions(base, mine, theirs)
    said = f": {_named(keys)}" if keys else " in comments and layout alone"
    words = f"{name} was changed by another program{said}."
    if both:
        words += f" {_named(tuple(each.key for each in both))} was changed on this page as well."
    return OnDisk("changed", words, keys, tuple(each.key for each in both))


def theirs_alone(document: Document) -> tuple[str, bytes]:
    """Text and content of the file, for `Document.take_over`; raises OutputError, SceneError."""
    content = _there(document)
    return _decoded(document.source, content), content


def accept(document: Document) -> None:
    """Take what the file holds now for what was read of it, so that it can be written over."""
    if document.target is not None:
        document.on_disk = content_of(document.target)


def both_together(document: Document, take: Mapping[str, Any]) -> tuple[str, bytes]:
    """The file's text with what was changed on the page, and its content.

    take : "mine" or "theirs" by key, where both have changed it
    Raises ConflictError where such a key is not decided, OutputError, SceneError.
    """
    content = _there(document)
    texts = _texts(document, content)
    try:
        both = contradictions(*(tables_of(text) for text in texts))
        open_ones = [each for each in both if take.get(each.key) not in CHOICES]
        if open_ones:
            raise ConflictError(
                _undecided(document, open_ones), True, [_told(o) for o in open_ones]
            )
        return merged(*texts, {key: str(value) for key, value in take.items()}), content
    except (tomllib.TOMLDecodeError, TOMLKitError, TypeError, ValueError, KeyError) as problem:
        raise SceneError(
            document.source, "", f"cannot be brought together: {problem}", "reload, or another name"
        ) from None


def _undecided(document: Document, both: list[Both]) -> str:
    name = document.name
    keys = _named(tuple(each.key for each in both))
    return f"{keys}: changed in {name} and on this page; say for each whose is kept"


def _told(both: Both) -> dict[str, Any]:
    return {"key": both.key, "mine": both.mine, "theirs": both.theirs, "was": both.was}


def _texts(document: Document, content: bytes) -> tuple[str, str, str]:
    """What was read of the file, what it has become here, and what it has become there."""
    base = "" if document.on_disk is None else document.on_disk.decode("utf-8")
    return base, document.text, _decoded(document.source, content)


def _there(document: Document) -> bytes:
    content = None if document.target is None else content_of(document.target)
    if content is None:
        raise OutputError(f"reload: {document.name} is not there (accepted: a file)")
    return content


def _decoded(source: Path, content: bytes) -> str:
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        raise SceneError(source, "", "not a text file", "a TOML file in UTF-8") from None


def _named(keys: tuple[str, ...]) -> str:
    more = len(keys) - MOST_NAMED
    return ", ".join(keys[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
