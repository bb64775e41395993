"""A scene file with the kit that it draws on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from render.errors import SceneError
from render.folders import data_folder, scene_names
from render.scenefile.kits import ReadingPlace, read_kits
from render.scenefile.parse import as_part, is_file, read_tables
from render.studio.kit import Kit
from render.studio.scene import Scene


@dataclass(frozen=True, slots=True)
class Setup:
    """A scene as its file says it, with the kit that it draws on."""

    file: Path
    scene: Scene
    kit: Kit
    reading_places: tuple[ReadingPlace, ...] = ()  # where each reading of the kit stands


def load_scene(path: str | Path) -> Setup:
    """Read a scene file, or a bundled scene by its name.

    path    : file, or the name of a bundled scene
    returns : Setup
    Raises SceneError or KitError with file, key, what was found and what would be accepted.
    """
    return as_setup(*scene_tables(path))


def scene_tables(path: str | Path) -> tuple[Path, dict[str, Any]]:
    """A scene's file and its tables as they stand there, not yet checked; raises SceneError."""
    file = _find(Path(path))
    return file, read_tables(file, SceneError)


def as_setup(file: Path, tables: dict[str, Any]) -> Setup:
    """Tables of a scene file, checked, with the kit beside it; raises SceneError, KitError."""
    scene = as_part(file, tables, Scene, SceneError)
    own = []
    for name in scene.kit:
        if not is_file(file.parent / name):
            raise SceneError(file, "kit", f'no file "{name}"', "kit files beside the scene file")
        own.append(file.parent / name)
    kit, places = read_kits(own)
    return Setup(file, scene, kit, places)


def _find(path: Path) -> Path:
    if is_file(path):
        return path
    bundled = data_folder("scenes") / f"{path}.toml"
    if path.suffix == "" and is_file(bundled):
        return bundled
    names = ", ".join(scene_names())
    raise SceneError(path, "", "no such file", f"a scene file, or a bundled scene: {names}")
