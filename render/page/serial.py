"""A series asked for on the page: one thing of the present set in a few places, as one sheet."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from render.errors import EngineError, OutputError, TenthstopError
from render.layout.people import is_made, wishes_of
from render.page import pictures as shown
from render.page.document import Document
from render.page.exports import Download, written
from render.page.jobs import GIVEN_UP
from render.page.lent import NO_ENGINE, Lent
from render.page.making import make_apart
from render.page.naming import tables_of
from render.page.pictures import QUALITY, Pictures
from render.page.queue import Queue
from render.picture.sheets import pixels_of
from render.picture.take import exposure_of
from render.series.cells import Cell, Series, series_of
from render.series.figures import Exposure
from render.series.frames import check_space, frames_due
from render.series.pictures import shots
from render.series.sheet import Page, Plate, write_sheet
from render.series.table import metered
from render.series.variables import LEFT_OUT, Value, Variable, every_key
from render.series.words import caption, notes, title
from render.studio.scene import Scene
from render.trace import Progress

INCH_M = 0.0254  # by definition since 1959
LONGEST_M = 1000.0  # what is longer, or no number, is left to be refused as a value
LEAST, MOST = 2, 5  # pictures of a sheet that the page asks for
SHOWN = 40  # letters of what was found that an error repeats
Say = Callable[[str], None]


@dataclass(slots=True)
class Sheets:
    """The one sheet that is being made, if any."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    stop: threading.Event = field(default_factory=threading.Event)

    def give_up(self) -> None:
        """The sheet that is being made is wanted no more."""
        self.stop.set()


@dataclass(frozen=True, slots=True)
class Studio:
    """What a sheet is made with."""

    document: Document  # as it was when it was asked for
    queue: Queue
    pictures: Pictures | None
    say: Say  # how far it is


@dataclass(frozen=True, slots=True)
class Wished:
    """A sheet as it came with a request."""

    key: object
    values: object
    rebalance: bool = False  # turn the key light until the face reads as in the first picture
    feet: bool = False  # lengths in the captions are said in feet and inches


def wished(asked: Wished, tables: Mapping[str, Any]) -> Variable:
    """A key of the scene and its values; raises OutputError."""
    key, values = asked.key, asked.values
    if not isinstance(key, str) or key not in every_key(Scene, tables):
        raise OutputError(
            f'key: found {_short(key)} (accepted: a key of this scene, such as "light.key.power")'
        )
    if not isinstance(values, list) or not LEAST <= len(values) <= MOST:
        raise OutputError(f"{key}: found {_short(values)} (accepted: {LEAST} to {MOST} values)")
    long = asked.feet and key.endswith("_m")
    found = tuple(Value(each, _text(each), _feet(each) if long else "") for each in values)
    for k, value in enumerate(found):
        if value.found in [each.found for each in found[:k]]:
            raise OutputError(f"{key}: found {value.text[:SHOWN]} twice (accepted: it once)")
    return Variable(key, found)


def _feet(value: Any) -> str:
    """A length in feet and inches, as the page says it; nothing for what is no length."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    if not abs(value) <= LONGEST_M:
        return ""
    inches = round(abs(value) / INCH_M)
    return f"{'−' if value < 0 and inches else ''}{inches // 12}′ {inches % 12}″"


def _text(value: Any) -> str:
    """A value as it is said in a caption."""
    if value is None:
        return LEFT_OUT
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _short(found: object) -> str:
    said = json.dumps(found, ensure_ascii=False)
    return said if len(said) <= SHOWN else f"{said[:SHOWN]}..."


def series_sheet(studio: Studio, sheets: Sheets, asked: Wished) -> Download:
    """The contact sheet of the present set with one key at several values, traced at draft.

    Raises OutputError for a key or value that cannot be, EngineError where it was given up.
    """
    document = studio.document
    tables = tables_of(document.text)
    variable = wished(asked, tables)
    if studio.pictures is None:
        raise EngineError(NO_ENGINE)
    if not sheets.lock.acquire(blocking=False):
        raise EngineError("a series is being made already; wait for it, or give it up")
    try:
        sheets.stop.clear()
        heading = document.setup(tables).scene.title
        series = series_of(heading, tables, (variable,), document.setup)
        page = _page(studio, studio.pictures, sheets.stop, series, asked.rebalance)
        content = written("series.png", lambda file: write_sheet(file, page))
    finally:
        sheets.lock.release()
    stem = document.name.removesuffix(".toml")
    name = variable.words.replace(" ", "-")
    return Download(f"{stem}-{name}.png", "image/png", content)


def _page(
    studio: Studio, pictures: Pictures, stop: threading.Event, series: Series, rebalance: bool
) -> Page:
    for cell in series.cells:
        exposure_of(cell.setup)  # without a camera there is no picture
        _seat(cell, stop, studio.say)
    store, count = pictures.store, len(series.cells)
    due = frames_due(series.cells, QUALITY, shown.LONG_SIDE_PX, store, pictures.engine_name)
    check_space(due, store)
    crew = Lent(studio.queue, pictures.engine_name, stop)
    exposure: Exposure = "re-metered" if rebalance else "kept"
    studio.say(f"Metering the first of {count} set-ups")
    table, outputs = metered(
        series, (exposure,), crew, lambda done: studio.say(f"Metered {done} of {count} set-ups")
    )

    def traced(now: Progress) -> None:
        studio.say(f"Tracing light: {now.done_chunks} of {due.chunks} pieces")

    made = shots(
        series.cells,
        outputs,
        quality=QUALITY,
        long_side_px=shown.LONG_SIDE_PX,
        engine=crew,
        store=store,
        expected_chunks=due.chunks,
        progress=traced,
    )
    plates = tuple(
        Plate(pixels_of(shot.pictures[0]), caption(series, row))
        for shot, row in zip(made, table.cells, strict=True)
    )
    studio.say("The sheet is being set")
    heading, foot = title(series, exposure, table.cells), notes(exposure, table.cells)
    return Page(heading, plates, count, (), foot)


def _seat(cell: Cell, stop: threading.Event, say: Say) -> None:
    """Have a sitter made who was never made; raises TenthstopError."""
    sitter = cell.setup.scene.sitter
    if sitter is not None and not is_made(sitter):
        say(f"Making the sitter of picture {cell.number}, which takes some 15 seconds once")
        make_apart(wishes_of(sitter), stop.is_set)
    if stop.is_set():
        raise TenthstopError(GIVEN_UP)
