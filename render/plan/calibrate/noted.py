"""What the meter really said: the filled-in column of a card, as TOML or CSV."""

from __future__ import annotations

import csv
import datetime
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import Field, ValidationError

from render.errors import ReadingsError
from render.report.held import ALL
from render.scenefile.parse import as_part, check_file, read_tables, sentence
from render.studio.part import F_NUMBER_WORDS, POWER_WORDS, Name, Part, Power, ShownFNumber
from render.studio.scene import Aim, Point, Receptor

STAND_IN = 8.0  # f-number of a row that is not read yet, so that the rest of it is checked too


class Noted(Part):
    """One reading, as it was written down."""

    point: str | None = Field(None, description="a meter point of the scene or of this file")
    distance_m: float | None = Field(
        None, ge=0.2, le=15, description="instead: straight ahead, from the middle of the front"
    )
    light: str = Field(description='a light\'s name, the others off, or "all"')
    f_number: ShownFNumber = Field(description=F_NUMBER_WORDS)
    receptor: Receptor | None = Field(None, description="default: as `meter` holds it")
    aim: Aim | None = Field(None, description="default: as `meter` holds it")
    power: Power | None = Field(None, description=POWER_WORDS)
    iso_speed: float | None = Field(
        None, ge=6, le=409600, description="set on the meter; default: the scene's"
    )
    date: datetime.date | None = Field(None, description="when")

    @property
    def at(self) -> str:
        """Where it was taken, in words."""
        return self.point or f"{self.distance_m:g} m ahead"


class Notes(Part):
    """A file of readings."""

    read: tuple[Noted, ...] = Field(min_length=1, description="[[read]] tables, or lines of a CSV")
    point: dict[Name, Point] = Field({}, description="places of your own, as in a scene")


@dataclass(frozen=True, slots=True)
class Notebook:
    """Readings that were taken (n), places of the file's own, and rows that are blank still."""

    notes: tuple[Noted, ...]
    keys: tuple[str, ...]  # (n,) where each stands in the file
    own: Mapping[str, Point]
    blank: tuple[str, ...]  # light and place, in words


COLUMNS = tuple(Noted.model_fields)


def read_notes(file: Path) -> Notebook:
    """Readings of a TOML file (`[[read]]` tables) or a CSV file (a line each, named columns).

    Rows whose f-number is missing or empty are not read yet; empty cells of a CSV are left out.
    Raises ReadingsError with file, key, what was found and what would be accepted.
    """
    own: Mapping[str, Point] = {}
    if file.suffix.lower() == ".csv":
        rows = _from_csv(file)
    else:
        rows, own = _from_toml(file)
    for key, _, note in rows:
        _check_place(file, key, note)
    taken = [(key, note) for key, blank, note in rows if not blank]
    if not taken:
        wanted = "at least one f_number filled in"
        raise ReadingsError(file, "f_number", "no reading yet", wanted)
    return Notebook(
        notes=tuple(note for _, note in taken),
        keys=tuple(key for key, _ in taken),
        own=own,
        blank=tuple(f"{note.light} at {note.at}" for _, blank, note in rows if blank),
    )


KINDS: tuple[tuple[str, Callable[[str], Any]], ...] = (
    ("iso_speed", float),
    ("distance_m", float),
    ("date", datetime.date.fromisoformat),
)
Row = tuple[str, bool, Noted]  # where it stands up to its keys, whether blank, what it says


def _from_toml(file: Path) -> tuple[list[Row], Mapping[str, Point]]:
    tables = read_tables(file, ReadingsError)
    found = tables.get("read")
    if not isinstance(found, list) or not all(isinstance(row, dict) for row in found):
        what = "missing" if found is None else "found no list of tables"
        raise ReadingsError(file, "read", what, "[[read]] tables with point, light and f_number")
    blank = [str(row.get("f_number", "")).strip() == "" for row in found]
    rows = [
        row | {"f_number": STAND_IN} if empty else row
        for row, empty in zip(found, blank, strict=True)
    ]
    notes = as_part(file, tables | {"read": rows}, Notes, ReadingsError)
    keyed = [
        (f"read[{i}].", empty, note)
        for i, (empty, note) in enumerate(zip(blank, notes.read, strict=True))
    ]
    return keyed, notes.point


def _from_csv(file: Path) -> list[Row]:
    try:
        check_file(file, ReadingsError)
        with file.open(encoding="utf-8-sig", newline="") as lines:
            reader = csv.DictReader(lines, restkey="", strict=True)
            names = [name.strip() for name in reader.fieldnames or ()]
            reader.fieldnames = names
            rows = [(reader.line_num, row) for row in reader]
    except (UnicodeDecodeError, csv.Error):
        raise ReadingsError(file, "", "not a CSV file", "columns parted by commas, UTF-8") from None
    except OSError as problem:
        reason = problem.strerror or "cannot be read"
        raise ReadingsError(file, "", reason.lower(), "a CSV file that can be read") from None
    for name in names:
        if name not in COLUMNS:
            columns = f"columns: {', '.join(COLUMNS)}, parted by commas"
            raise ReadingsError(file, "line 1", f'found the column "{name}"', columns)
    if twice := next((name for name in names if names.count(name) > 1), ""):
        raise ReadingsError(file, "line 1", f'found the column "{twice}" twice', "once")
    return [_from_line(file, number, row) for number, row in rows]


def _from_line(file: Path, number: int, row: dict[str, Any]) -> Row:
    """One line of a CSV file."""
    if row.pop("", None):
        raise ReadingsError(file, f"line {number}", "more cells than columns", "as many as line 1")
    cells: dict[str, Any] = {name: (text or "").strip() for name, text in row.items()}
    cells = {name: text for name, text in cells.items() if text}
    blank = "f_number" not in cells
    for name, kind in KINDS:
        # Of what is neither, the model says what would be accepted.
        with suppress(KeyError, ValueError):
            cells[name] = kind(cells[name])
    try:
        note = Noted.model_validate({"f_number": STAND_IN} | cells)
    except ValidationError as problems:
        key, what, wanted = sentence(Noted, problems.errors()[0])
        raise ReadingsError(file, f"line {number}: {key}", what, wanted) from None
    return f"line {number}: ", blank, note


def _check_place(file: Path, key: str, note: Noted) -> None:
    """A reading is at a point or straight ahead of one light; raises ReadingsError."""
    if (note.point is None) == (note.distance_m is None):
        found = "missing" if note.point is None else "found beside distance_m"
        wanted = "either a meter point, or distance_m: straight ahead of the light"
        raise ReadingsError(file, f"{key}point", found, wanted)
    if note.distance_m is not None and note.light == ALL:
        wanted = "accepted: one light, or a point instead of distance_m"
        raise ReadingsError(file, f"{key}light", f'found "{ALL}", straight ahead of none', wanted)
