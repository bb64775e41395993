"""The pictures and recipes that lie in the scene's folder, and which of them a page may name."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from render.combine.recipe import Recipe, read_recipe
from render.combine.written import SUFFIXES, inputs_of
from render.errors import OutputError, PhotoError, RecipeError
from render.page.exports import Download
from render.picture.files import write_whole

READ = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".exr")
RECIPE = ".toml"
MOST_LISTED = 500
MOST_NAME = 100  # letters of a result's name
LOOK_KEY = "look"  # every recipe says one; a scene does not
HEAD_BYTES = 4096


def pictures(folder: Path) -> list[str]:
    """Names of the pictures in a folder; nothing that leads elsewhere."""
    return _listed(file for file in _own(folder) if file.suffix.lower() in READ)


def recipes(folder: Path) -> list[str]:
    """Names of the recipes in a folder."""
    return _listed(
        file for file in _own(folder) if file.suffix.lower() == RECIPE and _says_look(file)
    )


def picture(folder: Path, name: object) -> Path:
    """A picture of the folder; raises PhotoError for any other name."""
    if isinstance(name, str) and _plain(name):
        file = folder / name
        if file.suffix.lower() in READ and file.is_file() and not file.is_symlink():
            return file
    shown = name if isinstance(name, str) else "no name"
    raise PhotoError(
        shown[:MOST_NAME], "", "is no picture of this folder", "accepted: one that lies in it"
    )


def recipe(folder: Path, name: object) -> Recipe:
    """A recipe of the folder that names pictures of the folder; raises RecipeError, PhotoError."""
    if not isinstance(name, str) or not _plain(name) or (folder / name).is_symlink():
        raise RecipeError(
            str(name)[:MOST_NAME], "", "is no recipe of this folder", "accepted: NAME.toml"
        )
    read = read_recipe(folder / name)
    check_inside(read, folder)
    return read


def check_inside(asked: Recipe, folder: Path) -> None:
    """Raise PhotoError where a recipe reads what does not lie in the folder itself."""
    for file in inputs_of(asked, Path()):
        picture(folder, str(file))


def new_result(folder: Path, name: object) -> Path:
    """A result that a page may make, with its recipe beside it; raises OutputError."""
    accepted = f"a name that ends in {', '.join(SUFFIXES)}, no folder"
    if not isinstance(name, str) or not _plain(name) or not name.isprintable():
        raise OutputError(f"save: found {str(name)[:MOST_NAME]!r} (accepted: {accepted})")
    file = folder / name
    if file.suffix.lower() not in SUFFIXES:
        raise OutputError(f"save: found {name} (accepted: {accepted})")
    for each in (file, file.with_suffix(RECIPE)):
        if each.exists() or each.is_symlink():
            raise OutputError(f"save: {each.name} is there already (accepted: a new name)")
    return file


def put(folder: Path, made: Download) -> str:
    """Write a file beside the others under its name, numbered where that is taken.

    Raises OutputError where it cannot be written.
    """
    stem, end = Path(made.name).stem, Path(made.name).suffix
    for k in range(1, MOST_LISTED):
        file = folder / (made.name if k == 1 else f"{stem}-{k}{end}")
        if not (file.exists() or file.is_symlink()):
            return write_whole(file, lambda part: part.write_bytes(made.content)).name
    raise OutputError(f"save: {made.name} is there {MOST_LISTED} times (accepted: fewer of them)")


def _plain(name: str) -> bool:
    """Whether a name is that of a file in the folder itself."""
    odd = "/" in name or "\\" in name or ":" in name or "\0" in name or name.startswith(".")
    return 0 < len(name) <= MOST_NAME and not odd


def _own(folder: Path) -> Iterator[Path]:
    try:
        files = sorted(folder.iterdir(), key=lambda file: file.name.casefold())
    except OSError:
        return
    for file in files:
        if _plain(file.name) and file.is_file() and not file.is_symlink():
            yield file


def _listed(files: Iterator[Path]) -> list[str]:
    return [file.name for file, _ in zip(files, range(MOST_LISTED), strict=False)]


def _says_look(file: Path) -> bool:
    try:
        with file.open("rb") as opened:
            head = opened.read(HEAD_BYTES).decode("utf-8", "replace")
    except OSError:
        return False
    return any(line.strip().startswith(LOOK_KEY) for line in head.splitlines())
