"""Which files a page may read and write: those of the scene's own folder, and no others."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from render.errors import OutputError, SceneError
from render.folders import data_folder
from render.scenefile.parse import tables_in
from render.scenefile.write import BOM

NAMING = ("kit", "sitter.mesh")  # keys that name files
NAME = re.compile(r"\w[\w -]{0,79}\.toml", re.ASCII)  # of a new file
Stamps = tuple[tuple[str, int, int], ...]  # of files: name, time [ns], size


def tables_of(text: str) -> dict[str, Any]:
    """The tables of a scene's text; raises TOMLDecodeError."""
    return tables_in(text.removeprefix(BOM))


def named_files(tables: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Files that a scene's tables name, by key."""
    kit, sitter = tables.get("kit", ()), tables.get("sitter", {})
    mesh = sitter.get("mesh") if isinstance(sitter, dict) else None
    kits = tuple(str(each) for each in kit) if isinstance(kit, list | tuple) else (str(kit),)
    return {"kit": kits, "sitter.mesh": () if mesh is None else (str(mesh),)}


def check_inside(source: Path, tables: Mapping[str, Any]) -> None:
    """Raise SceneError where a scene names a file that is neither beside it nor bundled."""
    allowed = (source.parent, data_folder("scenes"), data_folder("meshes"))
    for key, names in named_files(tables).items():
        for name in names:
            found = (source.parent / name).resolve()
            if not any(found.is_relative_to(each.resolve()) for each in allowed):
                raise SceneError(
                    source, key, f'"{name}" lies elsewhere', "files in the scene's folder"
                )


def check_new(source: Path, tables: Mapping[str, Any], save_as: Path) -> None:
    """Raise OutputError where a scene cannot be saved to a new file."""
    folder = save_as.resolve().parent
    if save_as.exists():
        raise OutputError(f"--save-as: {save_as} is there already (accepted: a new name)")
    if save_as.suffix != ".toml" or not folder.is_dir():
        raise OutputError(f"--save-as: found {save_as} (accepted: NAME.toml in a folder)")
    if any(named_files(tables).values()) and folder != source.resolve().parent:
        raise OutputError(
            f"--save-as: {source.name} names files beside it (accepted: a name in its folder)"
        )


def new_file(folder: Path, name: object) -> Path:
    """A file that a page may make: a plain name in one folder; raises OutputError."""
    if not isinstance(name, str) or not NAME.fullmatch(name):
        shown = str(name) if len(str(name)) <= 40 else f"{str(name)[:37]}..."
        raise OutputError(
            f"save: found {shown!r} (accepted: a name such as two-lamps.toml: letters, digits, "
            "spaces, - and _, no folder)"
        )
    file = folder / name
    if file.exists() or file.is_symlink():
        raise OutputError(f"save: {name} is there already (accepted: a new name)")
    return file


def stamps(source: Path, names: tuple[str, ...]) -> Stamps:
    """When files beside the scene were last written."""
    found = []
    for name in names:
        try:
            told = (source.parent / name).stat()
            found.append((name, told.st_mtime_ns, told.st_size))
        except OSError:
            found.append((name, 0, 0))
    return tuple(found)


def content_of(file: Path) -> bytes | None:
    """What a file holds, None where there is none; raises OutputError where it cannot be read."""
    try:
        return file.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as problem:
        raise OutputError(
            f"save: {file.name}: {(problem.strerror or 'cannot be read').lower()} (accepted: a "
            "file that can be read)"
        ) from None
