"""Where the bundled scenes and head data lie, and where finished work is kept."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

from render.errors import OutputError

_HERE = Path(__file__).resolve().parent


def data_folder(name: str) -> Path:
    """Folder `scenes` or `meshes`: inside the installed package, or beside it in a checkout."""
    installed = _HERE / "_data" / name
    return installed if installed.is_dir() else _HERE.parent / name


def scene_names() -> tuple[str, ...]:
    """Names of the bundled scenes."""
    return tuple(sorted(path.stem for path in data_folder("scenes").glob("*.toml")))


def lesson_names() -> tuple[str, ...]:
    """Names of the bundled lessons."""
    return tuple(sorted(path.stem for path in data_folder("scenes").glob("lessons/*.toml")))


def cache_folder(name: str) -> Path:
    """A folder for finished work that can be made again; TENTHSTOP_CACHE moves it elsewhere.

    Raises OutputError where nothing can be kept.
    """
    root = Path(os.environ.get("TENTHSTOP_CACHE") or platformdirs.user_cache_dir("tenthstop"))
    try:
        root.mkdir(parents=True, exist_ok=True)
        usable = os.access(root, os.W_OK)
    except OSError:
        usable = False
    if not usable:
        raise OutputError(
            f"{root}: finished work cannot be kept there (set TENTHSTOP_CACHE to a folder that "
            "can be written)"
        )
    return root / name


def unkept(folder: Path, what: str, problem: OSError) -> OutputError:
    """The error for finished work that a folder does not take: it is full, or cannot be written."""
    reason = (problem.strerror or str(problem)).lower()
    return OutputError(
        f"{folder}: {what} cannot be kept there: {reason} (make room, or set TENTHSTOP_CACHE to a "
        "folder that can be written)"
    )
