"""`tenthstop series`: one or two things changed step by step, as a table and a contact sheet."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from render.cli.crews import crew
from render.cli.paper import signed
from render.cli.pictures import progress_bar, quality_of, writable
from render.cli.series_tables import print_series
from render.picture.develop import Picture
from render.picture.files import write_png
from render.picture.sheets import pixels_of
from render.picture.take import exposure_of
from render.series.cells import Series, placed
from render.series.difference import coloured, scale_stops, stops_apart
from render.series.figures import CellRow, Exposure
from render.series.frames import Due, announcement, check_space, frames_due
from render.series.pictures import KeyOutput, shots
from render.series.sheet import MOST_ACROSS, Page, Plate, write_sheet
from render.series.table import SeriesTable, metered
from render.series.words import (
    caption,
    changed,
    notes,
    row_heads,
    title,
)
from render.trace import Crew, Engine, FrameStore, choose_engine

SUFFIXES = (".png", ".pdf")


@dataclass(frozen=True, slots=True)
class Asked:
    """How a series is asked for."""

    exposures: tuple[Exposure, ...]
    out: Path | None  # None for the figures alone
    quality: str
    size_px: int
    difference: bool
    bounce: bool
    detail: bool
    many: tuple[int | None, str] = (None, "")  # worker processes, address of a cluster
    lead: tuple[str, ...] = ()  # paragraphs under the title
    shown: tuple[str, ...] = ()  # figures of the captions; () for all


def run_series(
    series: Series, asked: Asked, engine: str, as_json: bool = False, as_csv: bool = False
) -> None:
    """Place every cell, meter them all, print the table, then make the pictures and the sheets."""
    quality_of(asked.quality)
    store = FrameStore()
    due = _due(series, asked, engine, store)
    needed = asked.bounce or due is not None
    with crew(engine, *asked.many) if needed else nullcontext() as running:
        with steps(len(series.cells), "metering") as told:
            bounced = running if asked.bounce else None
            table, outputs = metered(series, asked.exposures, bounced, told)
        print_series(series, table, asked.detail, as_json, as_csv, asked.lead)
        if due is None:
            return
        said = announcement(due, len(series.cells), store)
        Console(stderr=True).print(said, highlight=False, soft_wrap=True)
        assert running is not None  # there are pictures to make
        made = _pictures(series, asked, outputs, due, running, store)
    for written in _sheets(series, table, asked, made):
        print(written, file=sys.stderr if as_json or as_csv else sys.stdout)


def _due(series: Series, asked: Asked, engine: str, store: FrameStore) -> Due | None:
    """Place every cell, and look up what is to be traced; None where no pictures are asked for."""
    with steps(len(series.cells), "placing") as told:
        if asked.out is None:
            for cell, _ in placed(series.cells):
                told(cell.number)
            return None
        _check_outputs(series, asked.out)
        quality, name = quality_of(asked.quality), choose_engine(engine).name
        due = frames_due(series.cells, quality, asked.size_px, store, name, told)
    check_space(due, store)
    return due


def _check_outputs(series: Series, out: Path) -> None:
    """Refuse outputs that cannot be written, or cells that make no picture."""
    writable(out, SUFFIXES)
    folder = out.with_suffix("")
    if folder.exists() and not folder.is_dir():
        writable(folder / "01.png")
    for cell in series.cells:
        exposure_of(cell.setup)


@contextmanager
def steps(total: int, words: str) -> Iterator[Callable[[int], None]]:
    """A bar that counts cells; yields what is told the number done."""
    console = Console(stderr=True)
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
    engine: Engine | Crew,
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
            Plate(pixels_of(picture), caption(series, row, asked.shown))
            for picture, row in zip(pictures, rows, strict=True)
        )
        name = f"{asked.out.stem}{_mark(exposure, asked)}"
        page = Page(
            heading, plates, columns, heads, notes(exposure, rows, asked.shown), lead=asked.lead
        )
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
