"""The scene file as it is being edited: its text, what undo and redo go to, and what is on disk."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tomlkit.exceptions import TOMLKitError

from render.errors import OutputError, SceneError
from render.page.conflicts import ConflictError
from render.page.naming import (
    NAMING,
    Stamps,
    check_inside,
    check_new,
    content_of,
    named_files,
    new_file,
    stamps,
    tables_of,
)
from render.scenefile import Setup
from render.scenefile.parse import as_part
from render.scenefile.read import as_setup
from render.scenefile.write import is_bundled, replace_scene, rewritten
from render.studio.scene import Scene
from render.writing import alone_in

KEY = re.compile(r"[\w-]+(\.[\w-]+){0,3}", re.ASCII)
KEYS_AT_ONCE = 64
MOST_STEPS = 200  # that undo goes back; a scene file is a few kilobytes


@dataclass(frozen=True, slots=True)
class Step:
    """A text that undo or redo goes to.

    base : what the file held then, where that step took over another state of the file
    """

    text: str
    base: bytes | None = None


@dataclass(slots=True)
class Document:
    """A scene's text, its history, and the file that it is saved to."""

    source: Path  # the file that was read; kit files and meshes are named from there
    target: Path | None  # that it is saved to; None for a bundled scene without another name
    on_disk: bytes | None  # what the target held when it was read or saved; None while it is new
    text: str
    folder: Path  # that it can be saved in under another name
    before: list[Step] = field(default_factory=list)
    after: list[Step] = field(default_factory=list)
    version: int = 1
    merging: str = ""  # word of the last change; one with the same word is the same step of undo
    kit: tuple[Stamps, Setup] | None = None  # the last kit that was read, and of which files

    @property
    def name(self) -> str:
        """Of the file that it is saved to, without its folder."""
        return (self.target or self.source).name

    @property
    def saved(self) -> bool:
        """Whether the text is that of the file."""
        return self.text.encode("utf-8") == self.on_disk

    def checked(self, text: str) -> Setup:
        """A text as a scene; raises SceneError, KitError, also for files that it did not name."""
        try:
            tables = tables_of(text)
        except tomllib.TOMLDecodeError as problem:
            raise SceneError(
                self.source, "", f"not valid TOML: {problem}", "mend that line"
            ) from None
        return self.setup(tables)

    def setup(self, tables: dict[str, Any]) -> Setup:
        """Tables as a scene; the kit is read again only where its files have changed.

        Raises SceneError, KitError.
        """
        if named_files(tables) != named_files(tables_of(self.text)):
            raise SceneError(
                self.source,
                " and ".join(NAMING),
                "name files",
                "the files that the scene had when it was opened",
            )
        stamp = stamps(self.source, named_files(tables)["kit"])
        if self.kit is None or self.kit[0] != stamp:
            found = as_setup(self.source, tables)
            self.kit = stamp, found
            return found
        return replace(self.kit[1], scene=as_part(self.source, tables, Scene, SceneError))

    def edited(self, keys: Mapping[str, Any]) -> str:
        """The text with new values, not yet taken; raises SceneError."""
        self.check_keys(keys)
        try:
            return rewritten(self.text, keys)
        except (TOMLKitError, TypeError, ValueError, AttributeError, KeyError) as problem:
            raise SceneError(
                self.source, ", ".join(keys), "cannot stand there", f"a key of the scene: {problem}"
            ) from None

    def check_keys(self, keys: Mapping[str, Any]) -> None:
        """Raise SceneError for what can be no keys of a scene."""
        if len(keys) > KEYS_AT_ONCE:
            raise SceneError(self.source, "", f"{len(keys)} keys at once", f"{KEYS_AT_ONCE}")
        for key in keys:
            if not KEY.fullmatch(key):
                shown = key if len(key) <= 60 else f"{key[:57]}..."
                raise SceneError(self.source, shown, "not a key", "such as light.key.power")

    def check_version(self, version: object) -> None:
        """Raise ConflictError where somebody else has changed the scene since."""
        if version != self.version:
            raise ConflictError("the scene was changed elsewhere; this is how it stands now")

    def take(self, text: str, merge: str = "") -> None:
        """Make a text the present one.

        merge : a word; a change with the word of the change before it is the same step of undo
        """
        if not (merge and merge == self.merging and self.before):
            self._remember(Step(self.text))
        self._now(text, merge)

    def take_over(self, text: str, content: bytes) -> None:
        """Make a text the present one that knows of another state of the file."""
        self._remember(Step(self.text, self.on_disk))
        self.on_disk = content
        self._now(text)

    def _remember(self, step: Step) -> None:
        self.before = [*self.before, step][-MOST_STEPS:]
        self.after.clear()

    def earlier(self) -> str:
        """The text that undo goes to; raises OutputError where there is none."""
        if not self.before:
            raise OutputError("undo: nothing was changed yet (accepted: after a change)")
        return self.before[-1].text

    def later(self) -> str:
        """The text that redo goes to; raises OutputError where there is none."""
        if not self.after:
            raise OutputError("redo: nothing was undone (accepted: after undo)")
        return self.after[-1].text

    def undo(self) -> None:
        """Go to the earlier text."""
        self._go(self.before, self.after)

    def redo(self) -> None:
        """Go to the later text."""
        self._go(self.after, self.before)

    def _go(self, there: list[Step], back: list[Step]) -> None:
        step = there.pop()
        back.append(Step(self.text, None if step.base is None else self.on_disk))
        if step.base is not None:
            self.on_disk = step.base
        self._now(step.text)

    def _now(self, text: str, merge: str = "") -> None:
        self.text, self.merging = text, merge
        self.version += 1

    def save(self) -> None:
        """Write the text to the file; raises OutputError, or ConflictError where that changed."""
        if self.target is None:
            raise OutputError(
                f"save: {self.source.stem} is a bundled scene (accepted: another name, also by "
                "--save-as FILE.toml)"
            )
        with alone_in(self.target.parent):
            if content_of(self.target) != self.on_disk:
                raise ConflictError(
                    f"{self.target.name} was changed by another program since it was read here; "
                    "neither version was touched",
                    on_disk=True,
                )
            self._write(self.target, new=self.on_disk is None)

    def save_as(self, name: object) -> None:
        """Write the text to a new file in the folder, which is the scene's from then on.

        Raises OutputError, also where there is such a file.
        """
        file = new_file(self.folder, name)
        if any(named_files(tables_of(self.text)).values()) and not self._beside(file):
            raise OutputError(
                f"save: {self.source.name} names files beside it (accepted: a copy of your own)"
            )
        self._write(file, new=True)
        self.source = self.target = file
        self.kit = None

    def _beside(self, file: Path) -> bool:
        return file.resolve().parent == self.source.resolve().parent

    def _write(self, file: Path, new: bool = False) -> None:
        content = self.text.encode("utf-8")
        try:
            replace_scene(file, content, new)
        except OSError as problem:
            raise _unwritten(file, problem) from None
        self.on_disk, self.merging = content, ""
        # What is on disk now is ours: undo goes to other texts, not to other states of the file.
        for steps in (self.before, self.after):
            steps[:] = [Step(step.text) for step in steps]


def _unwritten(file: Path, problem: OSError) -> OutputError:
    reason = (problem.strerror or "cannot be written").lower()
    return OutputError(
        f"save: {file.name} stays as it was: {reason} (accepted: a folder that can be written)"
    )


def open_document(source: Path, save_as: Path | None) -> Document:
    """Read a scene file for editing.

    save_as : another file to save to, which must be new; None for the file itself
    Raises SceneError where it cannot be read or names files elsewhere, OutputError for `save_as`.
    """
    try:
        raw = source.read_bytes()
        text = raw.decode("utf-8")
        tables = tables_of(text)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise SceneError(source, "", reason.lower(), "a scene file that can be read") from None
    check_inside(source, tables)
    if save_as is not None:
        check_new(source, tables, save_as)
        return Document(source, save_as, None, text, save_as.resolve().parent)
    if is_bundled(source):
        return Document(source, None, raw, text, Path.cwd())
    return Document(source, source.resolve(), raw, text, source.resolve().parent)
