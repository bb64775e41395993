"""The scene file as it is being edited: its text, what undo and redo go to, and what is on disk."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tomlkit.exceptions import TOMLKitError

from render.errors import OutputError, SceneError, TenthstopError
from render.folders import data_folder
from render.scenefile import Setup
from render.scenefile.parse import as_part
from render.scenefile.read import as_setup
from render.scenefile.write import BOM, is_bundled, replace_scene, rewritten
from render.studio.scene import Scene

Stamps = tuple[tuple[str, int, int], ...]  # of kit files: name, time [ns], size
KEY = re.compile(r"[\w-]+(\.[\w-]+){0,3}", re.ASCII)
KEYS_AT_ONCE = 64
MOST_STEPS = 200  # that undo goes back; a scene file is a few kilobytes
NAMING = ("kit", "sitter.mesh")  # keys that name files


class ConflictError(TenthstopError):
    """What somebody else did in the meantime stands in the way.

    on_disk : whether it is the file that has changed, not the version of the page
    """

    def __init__(self, words: str, on_disk: bool = False) -> None:
        super().__init__(words)
        self.on_disk = on_disk


@dataclass(slots=True)
class Document:
    """A scene's text, its history, and the file that it is saved to."""

    source: Path  # the file that was read; kit files and meshes are named from there
    target: Path | None  # that it is saved to; None for a bundled scene without another name
    on_disk: bytes | None  # what the target held when it was read or saved; None while it is new
    text: str
    saved_text: str | None
    before: list[str] = field(default_factory=list)
    after: list[str] = field(default_factory=list)
    version: int = 1
    kit: tuple[Stamps, Setup] | None = None  # the last kit that was read, and of which files

    @property
    def name(self) -> str:
        """Of the file that it is saved to, without its folder."""
        return (self.target or self.source).name

    @property
    def saved(self) -> bool:
        """Whether the text is that of the file."""
        return self.text == self.saved_text

    def checked(self, text: str) -> Setup:
        """A text as a scene; raises SceneError, KitError, also for files that it did not name."""
        try:
            tables = tables_of(text)
        except tomllib.TOMLDecodeError as problem:
            raise SceneError(
                self.source, "", f"not valid TOML: {problem}", "mend that line"
            ) from None
        if named_files(tables) != named_files(tables_of(self.text)):
            raise SceneError(
                self.source,
                " and ".join(NAMING),
                "name files",
                "the files that the scene had when it was opened",
            )
        return self._setup(tables)

    def _setup(self, tables: dict[str, Any]) -> Setup:
        """Tables as a scene; the kit is read again only where its files have changed."""
        stamp = _stamps(self.source, tables)
        if self.kit is None or self.kit[0] != stamp:
            setup = as_setup(self.source, tables)
            self.kit = stamp, setup
            return setup
        return replace(self.kit[1], scene=as_part(self.source, tables, Scene, SceneError))

    def edited(self, keys: Mapping[str, Any]) -> str:
        """The text with new values, not yet taken; raises SceneError."""
        if len(keys) > KEYS_AT_ONCE:
            raise SceneError(self.source, "", f"{len(keys)} keys at once", f"{KEYS_AT_ONCE}")
        for key in keys:
            if not KEY.fullmatch(key):
                shown = key if len(key) <= 60 else f"{key[:57]}..."
                raise SceneError(self.source, shown, "not a key", "such as light.key.power")
        try:
            return rewritten(self.text, keys)
        except (TOMLKitError, TypeError, ValueError, AttributeError, KeyError) as problem:
            raise SceneError(
                self.source, ", ".join(keys), "cannot stand there", f"a key of the scene: {problem}"
            ) from None

    def check_version(self, version: object) -> None:
        """Raise ConflictError where somebody else has changed the scene since."""
        if version != self.version:
            raise ConflictError("the scene was changed elsewhere; this is how it stands now")

    def take(self, text: str) -> None:
        """Make a text the present one."""
        self.before = [*self.before, self.text][-MOST_STEPS:]
        self.after.clear()
        self._now(text)

    def earlier(self) -> str:
        """The text that undo goes to; raises OutputError where there is none."""
        if not self.before:
            raise OutputError("undo: nothing was changed yet (accepted: after a change)")
        return self.before[-1]

    def later(self) -> str:
        """The text that redo goes to; raises OutputError where there is none."""
        if not self.after:
            raise OutputError("redo: nothing was undone (accepted: after undo)")
        return self.after[-1]

    def undo(self) -> None:
        """Go to the earlier text."""
        self.after.append(self.text)
        self._now(self.before.pop())

    def redo(self) -> None:
        """Go to the later text."""
        self.before.append(self.text)
        self._now(self.after.pop())

    def _now(self, text: str) -> None:
        self.text = text
        self.version += 1

    def save(self) -> None:
        """Write the text to the file; raises OutputError, or ConflictError where that changed."""
        if self.target is None:
            raise OutputError(
                f"save: {self.source.stem} is a bundled scene (accepted: open it with --save-as "
                "FILE.toml)"
            )
        if _content(self.target) != self.on_disk:
            raise ConflictError(
                f"{self.target.name} was changed by another program since it was read here; "
                "neither version was touched",
                on_disk=True,
            )
        content = self.text.encode("utf-8")
        try:
            replace_scene(self.target, content)
        except OSError as problem:
            reason = (problem.strerror or "cannot be written").lower()
            raise OutputError(
                f"save: {self.target.name} stays as it was: {reason} (accepted: a folder that can "
                "be written)"
            ) from None
        self.on_disk, self.saved_text = content, self.text


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
    for key, names in named_files(tables).items():
        for name in names:
            _check_inside(source, key, name)
    if save_as is None:
        target = None if is_bundled(source) else source.resolve()
        return Document(source, target, raw, text, text)
    _check_new(source, tables, save_as)
    return Document(source, save_as, None, text, None)


def tables_of(text: str) -> dict[str, Any]:
    """The tables of a scene's text; raises TOMLDecodeError."""
    return tomllib.loads(text.removeprefix(BOM))


def named_files(tables: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Files that a scene's tables name, by key."""
    kit, sitter = tables.get("kit", ()), tables.get("sitter", {})
    mesh = sitter.get("mesh") if isinstance(sitter, dict) else None
    kits = tuple(str(each) for each in kit) if isinstance(kit, list | tuple) else (str(kit),)
    return {"kit": kits, "sitter.mesh": () if mesh is None else (str(mesh),)}


def _check_inside(source: Path, key: str, name: str) -> None:
    """Only files in the scene's own folder, or bundled ones, are read for a page."""
    found = (source.parent / name).resolve()
    allowed = (source.parent, data_folder("scenes"), data_folder("meshes"))
    if not any(found.is_relative_to(each.resolve()) for each in allowed):
        raise SceneError(source, key, f'"{name}" lies elsewhere', "files in the scene's folder")


def _check_new(source: Path, tables: Mapping[str, Any], save_as: Path) -> None:
    folder = save_as.resolve().parent
    if save_as.exists():
        raise OutputError(f"--save-as: {save_as} is there already (accepted: a new name)")
    if save_as.suffix != ".toml" or not folder.is_dir():
        raise OutputError(f"--save-as: found {save_as} (accepted: NAME.toml in a folder)")
    if any(named_files(tables).values()) and folder != source.resolve().parent:
        raise OutputError(
            f"--save-as: {source.name} names files beside it (accepted: a name in its folder)"
        )


def _stamps(source: Path, tables: Mapping[str, Any]) -> Stamps:
    """When the kit files that a scene names were last written."""
    found = []
    for name in named_files(tables)["kit"]:
        try:
            told = (source.parent / name).stat()
            found.append((name, told.st_mtime_ns, told.st_size))
        except OSError:
            found.append((name, 0, 0))
    return tuple(found)


def _content(file: Path) -> bytes | None:
    try:
        return file.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as problem:
        raise OutputError(
            f"save: {file.name}: {(problem.strerror or 'cannot be read').lower()} (accepted: a "
            "file that can be read)"
        ) from None
