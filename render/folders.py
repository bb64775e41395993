"""Where the bundled scenes and head data lie, and where finished work is kept."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

_HERE = Path(__file__).resolve().parent


def data_folder(name: str) -> Path:
    """Folder `scenes` or `meshes`: inside the installed package, or beside it in a checkout."""
    installed = _HERE / "_data" / name
    return installed if installed.is_dir() else _HERE.parent / name


def scene_names() -> tuple[str, ...]:
    """Names of the bundled scenes."""
    return tuple(sorted(path.stem for path in data_folder("scenes").glob("*.toml")))


def cache_folder(name: str) -> Path:
    """A folder for finished work that can be made again; TENTHSTOP_CACHE moves it elsewhere."""
    root = os.environ.get("TENTHSTOP_CACHE") or platformdirs.user_cache_dir("tenthstop")
    return Path(root) / name
