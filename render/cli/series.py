"""`tenthstop series`: one or two things changed step by step, as a table and a contact sheet."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from render.cli.paper import plain_table, printer, signed, spoken
from render.cli.pictures import progress_bar, quality_of, writable
from render.picture.develop import Picture
from render.picture.files import write_png
from render.picture.sheets import pixels_of
from render.picture.take import exposure_of
from render.series.cells import Series, placed, read_series
from render.series.difference import coloured, scale_stops, stops_apart
from render.series.figures import CellRow, Exposure, PointReading
from render.series.frames import Due, announcement, check_space, frames_due
from render.series.pictures import KeyOutput, shots
from render.series.sheet import MOST_ACROSS, Page, Plate, write_sheet
from render.series.table import SeriesTable, metered
from render.series.words import (
    caption,
    changed,
    edge_words,
    key_power,
    notes,
    ratio_words,
    row_heads,
    title,
)
from render.trace import Engine, FrameStore

SUFFIXES = (".png", ".pdf")
CELLS_ACROSS = 6  # of a table of readings


@dataclass(frozen=True, slots=True)
class Asked:
    """How a series is asked for."""

    vary: list[str]
    exposures: tuple[Exposure, ...]
    out: Path | None  # None for the figures alone
    quality: str
    size_px: int
    difference: bool
    bounce: bool
    detail: bool


def run_series(scene: str, asked: Asked, engine: str, as_json: bool, as_csv: bool) -> None:
    """Check every cell, meter them all, print the table, then make the pictures and the sheets."""
    quality_of(asked.quality)
    series = read_series(scene, asked.vary)
    console, store = Console(stderr=True), FrameStore()
    due: Due | None = None
    running = Engine(engine) if asked.bounce or asked.out is not None else None
    with steps(console, "placing", len(series.cells)) as told:
        if asked.out is None or running is None:
            for cell, _ in placed(series.cells):
                told(cell.number)
        else:
            _check_outputs(series, asked.out)
            quality, size = quality_of(asked.quality), asked.size_px
            due = frames_due(series.cells, quality, size, store, running.name, told)
            check_space(due, store)
    with running or nullcontext():
        with steps(console, "metering", len(series.cells)) as told:
            bounced = running if asked.bounce else None
            table, outputs = metered(series, asked.exposures, bounced, told)
        _print(series, table, asked, as_json, as_csv)
        if due is None or running is None:
            return
        console.print(announcement(due, len(series.cells), store), highlight=False, soft_wrap=True)
        made = _pictures(series, asked, outputs, due, running, store)
    for written in _sheets(series, table, asked, made):
        print(written, file=sys.stderr if as_json or as_csv else sys.stdout)


def _check_outputs(series: Series, out: Path) -> None:
    """Refuse outputs that cannot be written, or cells that make no picture."""
    writable(out, SUFFIXES)
    folder = out.with_suffix("")
    if folder.exists() and not folder.is_dir():
        writable(folder / "01.png")
    for cell in series.cells:
        exposure_of(cell.setup)


@contextmanager
def steps(console: Console, words: str, total: int) -> Iterator[Callable[[int], None]]:
    """A bar that counts cells; yields what is told the number done."""
    bar = Progress(
        TextColumn(words),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task("", total=total)
        yield lambda done: bar.update(task, completed=done)


def _pictures(
    series: Series,
    asked: Asked,
    outputs: Sequence[Sequence[KeyOutput]],
    due: Due,
    engine: Engine,
    store: FrameStore,
) -> list[tuple[Picture, ...]]:
    """Every cell's pictures, each written as soon as it is done."""
    assert asked.out is not None
    folder = asked.out.with_suffix("")
    folder.mkdir(exist_ok=True)
    console, made = Console(stderr=True), []
    with progress_bar(console) as show:
        for shot in shots(
            series.cells,
            outputs,
            quality=quality_of(asked.quality),
            long_side_px=asked.size_px,
            engine=engine,
            store=store,
            expected_chunks=due.chunks,
            progress=show,
        ):
            for exposure, picture in zip(asked.exposures, shot.pictures, strict=True):
                file = folder / f"{shot.cell.file_stem}{_mark(exposure, asked)}.png"
                write_png(file, picture, f"{series.scene}: {shot.cell.change}")
            made.append(shot.pictures)
            said = f"{shot.cell.change} ({shot.cell.number} of {len(series.cells)})"
            console.print(said, highlight=False, markup=False)
    return made


def _mark(exposure: Exposure, asked: Asked) -> str:
    """What tells the files of two versions apart."""
    return f".{exposure}" if len(asked.exposures) > 1 and exposure != "kept" else ""


def _sheets(
    series: Series, table: SeriesTable, asked: Asked, made: list[tuple[Picture, ...]]
) -> Iterator[Path]:
    """The contact sheet of each version, and its map of differences on request."""
    assert asked.out is not None
    across = series.columns
    columns = across if len(series.variables) > 1 else min(across, MOST_ACROSS)
    for k, exposure in enumerate(asked.exposures):
        rows = [row for row in table.cells if row.exposure == exposure]
        pictures = [each[k] for each in made]
        heading, heads = title(series, exposure, rows), row_heads(series)
        plates = tuple(
            Plate(pixels_of(picture), caption(series, row))
            for picture, row in zip(pictures, rows, strict=True)
        )
        name = f"{asked.out.stem}{_mark(exposure, asked)}"
        page = Page(heading, plates, columns, heads, notes(exposure, rows))
        yield write_sheet(asked.out.with_stem(name), page)
        if asked.difference:
            page = _difference(series, page, rows, pictures)
            yield write_sheet(asked.out.with_stem(f"{name}.difference"), page)


def _difference(series: Series, page: Page, rows: list[CellRow], pictures: list[Picture]) -> Page:
    """The sheet's pictures as stops over the first one, which stays a picture."""
    maps = [stops_apart(picture, pictures[0]) for picture in pictures]
    scale = scale_stops(maps[1:])
    plates = [Plate(page.plates[0].pixels, (*page.plates[0].caption[:2], "the first picture"))]
    for apart, row in zip(maps[1:], rows[1:], strict=True):
        said = (changed(series.variables[0], row.values[0]), f"face {row.face_shown}")
        face = f"face reading {signed(row.face_stops_re_first)} stops"
        plates.append(Plate(coloured(apart, scale), (*said, face)))
    foot = "Stops over the first picture in linear luminance. Grey: too dark or too noisy to tell."
    heading = f"{page.title}: what changes"
    return Page(heading, tuple(plates), page.columns, page.row_heads, foot, scale)


def _print(series: Series, table: SeriesTable, asked: Asked, as_json: bool, as_csv: bool) -> None:
    if as_json:
        print(json.dumps(asdict(table), indent=1, ensure_ascii=False))
        return
    if as_csv:
        _csv(table)
        return
    console = printer()
    for exposure in asked.exposures:
        rows = [row for row in table.cells if row.exposure == exposure]
        console.print(_table(series, exposure, rows))
        for start in range(0, len(rows) if asked.detail else 0, CELLS_ACROSS):
            console.print(_readings(rows[start : start + CELLS_ACROSS]))
        console.print(notes(exposure, rows), highlight=False)


def _table(series: Series, exposure: Exposure, rows: list[CellRow]) -> Table:
    shown = plain_table(title(series, exposure, rows))
    shown.add_column("cell", justify="right")
    for variable in series.variables:
        shown.add_column(variable.words)
    turned = exposure == "re-metered"
    names = ("shadow side", "key to fill", "lighting ratio", "shadow edge", "falloff")
    for heading in ("face", *(["key at"] if turned else []), *names, "backdrop", "pattern"):
        shown.add_column(heading, justify="right", no_wrap=True)
    for row in rows:
        values = [
            variable.said(next(v for v in variable.values if v.text == text))
            for variable, text in zip(series.variables, row.values, strict=True)
        ]
        code = "–" if row.backdrop_code is None else f"{row.backdrop_code:.0f} {row.backdrop_word}"
        shown.add_row(
            str(row.cell),
            *values,
            row.face_shown,
            *([key_power(row)] if turned else []),
            signed(row.shadow_side_stops),
            ratio_words(row.key_to_fill),
            ratio_words(row.lighting_ratio),
            "–" if row.edge_mm is None else edge_words(row.edge_mm),
            signed(row.falloff_stops),
            code,
            row.pattern or "–",
        )
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
