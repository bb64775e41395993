"""New values put into a scene file, everything else in it left as it was written."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.container import Container, OutOfOrderTableProxy
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import InlineTable, Table

from render.errors import OutputError, TenthstopError
from render.folders import data_folder
from render.scenefile.read import Setup, load_scene
from render.writing import alone_in, in_place_of

OPTION = "--write"
BOM = "\ufeff"
Tables = Container | Table | InlineTable | OutOfOrderTableProxy  # what keys can stand in


def is_bundled(file: Path) -> bool:
    """Whether a scene file came with the program."""
    return file.resolve().parent == data_folder("scenes").resolve()


def check_writable(setup: Setup) -> None:
    """Raise OutputError for a bundled scene, or a file that cannot be written."""
    file = setup.file.resolve()
    if is_bundled(file):
        raise OutputError(
            f"{OPTION}: {file.stem} is a bundled scene (accepted: a file of your own, such as a "
            f"copy of {setup.file})"
        )
    if not os.access(file, os.W_OK) or not os.access(file.parent, os.W_OK):
        raise OutputError(f"{OPTION}: {setup.file} cannot be written (accepted: a file that can)")


def write_powers(setup: Setup, powers: Mapping[str, str]) -> Path:
    """Put dial markings, light's name -> "1/8 +0.3", into a scene file; see `write_keys`."""
    return write_keys(setup, {f"light.{name}.power": marking for name, marking in powers.items()})


def write_keys(setup: Setup, values: Mapping[str, Any]) -> Path:
    """Put values into a scene file, keeping its comments, order and layout.

    values  : key -> value, as "light.key.power" -> "1/8 +0.3"; None takes the key out, a dict is a
              table that is new
    returns : the file, replaced as a whole or not at all
    Raises OutputError where it cannot be written.
    """
    check_writable(setup)
    file = setup.file.resolve()
    try:
        with alone_in(file.parent):
            raw = file.read_bytes()
            replace_scene(file, rewritten(raw.decode("utf-8"), values).encode("utf-8"))
    except (OSError, TOMLKitError, TenthstopError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise OutputError(
            f"{OPTION}: {setup.file} stays as it was: {reason.lower()} (accepted: a scene file "
            "that can be written)"
        ) from None
    return setup.file


def rewritten(text: str, values: Mapping[str, Any]) -> str:
    """The text of a scene file with new values, all else as it was; see `write_keys`.

    Raises TOMLKitError for a text or a value that is not TOML.
    """
    mark = BOM if text.startswith(BOM) else ""  # by some editors; kept
    page = tomlkit.parse(text.removeprefix(BOM))
    for key, value in values.items():
        _put(page, key.split("."), value)
    return mark + tomlkit.dumps(page)


def _put(page: Tables, path: list[str], value: Any) -> None:
    """Set one key, its tables made where there are none."""
    *tables, last = path
    for depth, name in enumerate(tables):
        if name not in page:
            inside = isinstance(page, InlineTable)
            only_tables = isinstance(value, dict) and depth == len(tables) - 1
            page[name] = tomlkit.inline_table() if inside else tomlkit.table(only_tables)
        page = page[name]
    if value is None:
        page.pop(last, None)
    elif isinstance(value, dict):
        page[last] = _table(value, isinstance(page, InlineTable))
    elif last in page or not isinstance(page, Table):
        page[last] = value
    else:
        _append(page, last, value)


def _append(table: Table, key: str, value: Any) -> None:
    """A new key after the last of a table, before comments that lead over to the next table."""
    keys = [each for each in table if not isinstance(table[each], Table)]
    if keys:
        table.value._insert_after(keys[-1], key, tomlkit.item(value))
    else:
        table[key] = value


def _table(values: Mapping[str, Any], inside: bool) -> Table | InlineTable:
    """A new table; within a line of braces, and for the tables in it, one such line."""
    found: Table | InlineTable = tomlkit.inline_table() if inside else tomlkit.table()
    for key, value in values.items():
        found[key] = _table(value, True) if isinstance(value, dict) else value
    if not inside:
        found.add(tomlkit.nl())  # a blank line before the next table
    return found


def replace_scene(file: Path, content: bytes, new: bool = False) -> None:
    """Write beside the file, read it back as a scene, then take the file's place.

    new : a file that has come there meanwhile stays: then FileExistsError
    Raises OSError, SceneError, KitError; the file is then as it was.
    """
    with in_place_of(file, new=new) as part:
        part.write_bytes(content)
        load_scene(part)
