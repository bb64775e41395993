"""The set-ups of a series: the scene file read anew with one or two keys set to other values."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import product
from pathlib import Path
from typing import Any, TypeVar

from render.errors import OutputError, TenthstopError
from render.layout import Layout, place
from render.scenefile import Setup
from render.scenefile.read import as_setup, scene_tables
from render.series.variables import Value, Variable, read_variables
from render.sitter.body import Body
from render.studio.scene import Scene

T = TypeVar("T")
Tables = dict[str, Any]  # of a scene file
SLUG_LETTERS = 60  # of a file name; more is cut off


@dataclass(frozen=True, slots=True)
class Cell:
    """One set-up of a series."""

    number: int  # from 1
    values: tuple[Value, ...]  # one for each variable
    change: str  # what it is set to, in words
    setup: Setup

    @property
    def file_stem(self) -> str:
        """Name for its files: number and change, in plain letters."""
        words = re.sub(r"[^a-zA-Z0-9.]+", "-", self.change.replace("°", "-deg")).strip("-.")
        return f"{self.number:02d}_{words[:SLUG_LETTERS]}"


@dataclass(frozen=True, slots=True)
class Series:
    """A scene and its cells, the last variable changing fastest within the first."""

    scene: str  # title
    variables: tuple[Variable, ...]
    cells: tuple[Cell, ...]

    @property
    def columns(self) -> int:
        """Cells side by side: one for every value of the first variable."""
        return len(self.variables[0].values)


def read_series(path: str | Path, asked: list[str]) -> Series:
    """Read a scene and make its cells; each is checked as its own scene file would be.

    asked : "light.key.distance_m=0.7,1,1.4", one or two; the first runs along the rows of a
            sheet, the second down its columns
    Raises SceneError or KitError for the scene itself, OutputError naming the variable or cell.
    """
    file, tables = scene_tables(path)
    title = as_setup(file, tables).scene.title
    return series_of(title, tables, read_variables(asked, tables), partial(as_setup, file))


def series_of(
    title: str, tables: Tables, variables: tuple[Variable, ...], read: Callable[[Tables], Setup]
) -> Series:
    """The cells of a scene's tables.

    read : tables of a scene, such as those of a cell, as its set-up
    Raises OutputError naming the cell that cannot be.
    """
    across, *down = variables
    cells: list[Cell] = []
    for values in product(*(each.values for each in [*down, across])):
        ordered = (values[-1], *values[:-1])
        change = ", ".join(v.change(value) for v, value in zip(variables, ordered, strict=True))
        make = partial(_set, tables, variables, ordered, read)
        setup = _or_named(len(cells) + 1, change, make)
        cells.append(Cell(len(cells) + 1, ordered, change, setup))
    return Series(title, variables, tuple(cells))


def placed(cells: Iterable[Cell]) -> Iterator[tuple[Cell, Layout]]:
    """Each cell with its set as it stands; raises OutputError naming a cell that cannot stand.

    Sitters are seated again only where sitter or camera are others than in the cell before.
    """
    before: tuple[Cell, Body | None] | None = None
    for cell in cells:
        seated = None
        if before is not None and _same_sitting(before[0].setup.scene, cell.setup.scene):
            seated = before[1]
        make = partial(place, cell.setup, seated, spots=False)
        layout = _or_named(cell.number, cell.change, make)
        before = (cell, layout.body)
        yield cell, layout


def _same_sitting(one: Scene, other: Scene) -> bool:
    return one.sitter == other.sitter and one.camera == other.camera


def _set(
    tables: Tables,
    variables: tuple[Variable, ...],
    values: tuple[Value, ...],
    read: Callable[[Tables], Setup],
) -> Setup:
    changed = copy.deepcopy(tables)
    for variable, value in zip(variables, values, strict=True):
        *path, last = variable.key.split(".")
        table = changed
        for name in path:
            table = table.setdefault(name, {})
        if value.found is None:
            table.pop(last, None)
        else:
            table[last] = value.found
    return read(changed)


def _or_named(number: int, change: str, make: Callable[[], T]) -> T:
    try:
        return make()
    except TenthstopError as problem:
        raise OutputError(f"cell {number} ({change}): {problem}") from None
