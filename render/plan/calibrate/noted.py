"""What the meter really said: the filled-in column of a card, as TOML or CSV."""

from __future__ import annotations

import csv
import datetime
from contextlib import suppress
from pathlib import Path
from typing import Any

from pydantic import Field, ValidationError

from render.errors import ReadingsError
from render.scenefile.parse import read_part, sentence
from render.studio.part import F_NUMBER_WORDS, POWER_WORDS, Part, Power, ShownFNumber
from render.studio.scene import Aim, Receptor


class Noted(Part):
    """One reading, as it was written down."""

    point: str = Field(description="meter point of the scene")
    light: str = Field(description='a light\'s name, the others off, or "all"')
    f_number: ShownFNumber = Field(description=F_NUMBER_WORDS)
    receptor: Receptor | None = Field(None, description="default: as `meter` holds it")
    aim: Aim | None = Field(None, description="default: as `meter` holds it")
    power: Power | None = Field(None, description=POWER_WORDS)
    iso_speed: float | None = Field(
        None, ge=6, le=409600, description="set on the meter; default: the scene's"
    )
    date: datetime.date | None = Field(None, description="when")


class Notes(Part):
    """A file of readings."""

    read: tuple[Noted, ...] = Field(min_length=1, description="[[read]] tables, or lines of a CSV")


COLUMNS = tuple(Noted.model_fields)


def read_notes(file: Path) -> tuple[Noted, ...]:
    """Readings of a TOML file (`[[read]]` tables) or a CSV file (a line each, named columns).

    In a CSV file empty cells are left out, and lines without an f-number are not read yet.
    Raises ReadingsError with file, key, what was found and what would be accepted.
    """
    if file.suffix.lower() == ".csv":
        return _from_csv(file)
    return read_part(file, Notes, ReadingsError).read


def _from_csv(file: Path) -> tuple[Noted, ...]:
    try:
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
            columns = f"columns: {', '.join(COLUMNS)}"
            raise ReadingsError(file, "line 1", f'found the column "{name}"', columns)
    found = [_from_line(file, number, row) for number, row in rows]
    noted = tuple(each for each in found if each is not None)
    if not noted:
        raise ReadingsError(
            file, "f_number", "no reading yet", "at least one line with an f-number"
        )
    return noted


def _from_line(file: Path, number: int, row: dict[str, Any]) -> Noted | None:
    """One line of a CSV file; None where its f-number is still blank."""
    if row.pop("", None):
        raise ReadingsError(file, f"line {number}", "more cells than columns", "as many as line 1")
    cells: dict[str, Any] = {name: (text or "").strip() for name, text in row.items()}
    cells = {name: text for name, text in cells.items() if text}
    if "f_number" not in cells:
        return None
    for name, kind in (("iso_speed", float), ("date", datetime.date.fromisoformat)):
        # Of what is neither, the model says what would be accepted.
        with suppress(KeyError, ValueError):
            cells[name] = kind(cells[name])
    try:
        return Noted.model_validate(cells)
    except ValidationError as problems:
        key, what, wanted = sentence(Noted, problems.errors()[0])
        raise ReadingsError(file, f"line {number}: {key}", what, wanted) from None
