"""How `tenthstop series` prints its figures: a table of cells, one of readings, CSV, JSON."""

from __future__ import annotations

import csv
import json
import sys
from dataclasses import asdict, fields
from textwrap import fill

from rich.table import Table

from render.cli.paper import plain_table, printer, signed, spoken
from render.series.cells import Series
from render.series.figures import CellRow, Exposure, PointReading
from render.series.table import SeriesTable
from render.series.words import edge_words, key_power, notes, ratio_words, title

CELLS_ACROSS = 6  # of a table of readings
LEAST_VALUE = 8  # characters of a value's column, however narrow the table
FIGURES_WIDE = 84  # characters that cells' numbers and figures take
FIGURES = (
    "shadow\nside",
    "key to\nfill",
    "lighting\nratio",
    "shadow\nedge",
    "falloff",
    "backdrop",
    "pattern",
)


def print_series(
    series: Series,
    table: SeriesTable,
    detail: bool,
    as_json: bool,
    as_csv: bool,
    lead: tuple[str, ...] = (),
) -> None:
    """Print the figures in the form that is asked for; detail adds every meter point.

    lead : paragraphs above the table
    """
    if as_json:
        print(json.dumps(asdict(table), indent=1, ensure_ascii=False))
        return
    if as_csv:
        _csv(table)
        return
    console = printer()
    for paragraph in lead:
        console.print(paragraph, highlight=False, markup=False)
    for exposure in dict.fromkeys(row.exposure for row in table.cells):
        rows = [row for row in table.cells if row.exposure == exposure]
        console.print(_table(series, exposure, rows, console.width))
        for start in range(0, len(rows) if detail else 0, CELLS_ACROSS):
            console.print(_readings(rows[start : start + CELLS_ACROSS]))
        console.print(notes(exposure, rows), highlight=False)


def _table(series: Series, exposure: Exposure, rows: list[CellRow], wide: int) -> Table:
    """The figures in so many characters across; long values are broken at their hyphens."""
    most = max(LEAST_VALUE, (wide - FIGURES_WIDE) // len(series.variables) - 2)
    shown = plain_table(title(series, exposure, rows))
    shown.add_column("cell", justify="right", no_wrap=True)
    for variable in series.variables:
        shown.add_column(fill(variable.words, most), no_wrap=True)
    turned = exposure == "re-metered"
    # Where the key is turned every face reads as the title says.
    for heading in ("key at" if turned else "face", *FIGURES):
        shown.add_column(heading, justify="right", no_wrap=True)
    for row in rows:
        values = [
            fill(variable.said(next(v for v in variable.values if v.text == text)), most)
            for variable, text in zip(series.variables, row.values, strict=True)
        ]
        code = "–" if row.backdrop_code is None else f"{row.backdrop_code:.0f} {row.backdrop_word}"
        figures = (
            str(row.cell),
            *values,
            key_power(row) if turned else row.face_shown,
            signed(row.shadow_side_stops),
            ratio_words(row.key_to_fill),
            ratio_words(row.lighting_ratio),
            "–" if row.edge_mm is None else edge_words(row.edge_mm),
            signed(row.falloff_stops),
            code,
            row.pattern or "–",
        )
        shown.add_row(*figures)
    return shown


def _readings(rows: list[CellRow]) -> Table:
    """Every meter point of some cells."""
    shown = plain_table("Readings, cell by cell, and stops from the first")
    shown.add_column("held at")
    for row in rows:
        shown.add_column(f"cell {row.cell}", justify="right")
    found = [{_column(reading): reading for reading in row.readings} for row in rows]
    for column, first in {k: r for each in reversed(found) for k, r in each.items()}.items():
        name = first.point if first.wish is None else f"{first.point}, {first.lights} alone"
        shown.add_row(spoken(name), *(_shown(each.get(column)) for each in found))
    return shown


def _shown(reading: PointReading | None) -> str:
    return "–" if reading is None else f"{reading.shown} {signed(reading.stops_re_first)}"


def _csv(table: SeriesTable) -> None:
    """One line a cell: its values, figures, and the f-number at every point."""
    keys = [varied.key for varied in table.varied]
    names = [f.name for f in fields(CellRow) if f.name not in ("values", "readings")]
    points = dict.fromkeys(_column(r) for row in table.cells for r in row.readings)
    writer = csv.DictWriter(sys.stdout, [*keys, *names, *points], lineterminator="\n")
    writer.writeheader()
    for row in table.cells:
        line: dict[str, object] = dict(zip(keys, row.values, strict=True))
        line |= {name: getattr(row, name) for name in names}
        line |= {_column(reading): reading.f_number for reading in row.readings}
        writer.writerow(line)


def _column(reading: PointReading) -> str:
    """Name of a reading's column: "f_number.chin", "f_number.crown.hair" for one light alone."""
    return ".".join(["f_number", reading.point, *([reading.lights] if reading.wish else [])])
