"""`tenthstop lesson`: the list of bundled lessons, and the sheet of one."""

from __future__ import annotations

import csv
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from render.cli.paper import plain_table, printer
from render.cli.pictures import quality_of
from render.cli.teaching import VERSIONS
from render.errors import OutputError
from render.folders import lesson_names
from render.series.estimate import Estimate, estimate
from render.series.figures import Exposure
from render.series.frames import on_disk
from render.series.lessons import Lecture, read_lesson

SHORT_S, MINUTE_S = 90, 60  # times are said in seconds up to the first
HOW = (
    "Light frames: one for every light and every change that it shows. About: by cells and pixels, "
    "from rates measured on two cores. Disk: 16 bytes for every pixel of a frame. All with nothing "
    "kept yet; making a sitter for the first time comes on top."
)


@dataclass(frozen=True, slots=True)
class Options:
    """What the command line says beside the lesson; None leaves it to the lesson."""

    exposures: tuple[Exposure, ...] | None
    out: Path | None
    quality: str | None
    size_px: int | None
    difference: bool
    bounce: bool
    detail: bool
    many: tuple[int | None, str]
    as_json: bool
    as_csv: bool


def run_lesson(name: str, options: Options, engine: str) -> None:
    """Make the sheet of a lesson: its table, its pictures, all in one."""
    from render.cli.series import Asked, run_series  # what draws sheets; the list does without

    lecture = read_lesson(name)
    lesson = lecture.lesson
    table_only = options.out is None and not options.difference
    table_only = table_only and (options.as_json or options.as_csv)
    asked = Asked(
        exposures=options.exposures or VERSIONS[lesson.exposure],
        out=None if table_only else options.out or Path(f"{lecture.name}.png"),
        quality=options.quality or lesson.quality,
        size_px=options.size_px or lesson.size_px,
        difference=options.difference,
        bounce=options.bounce,
        detail=options.detail,
        many=options.many,
        lead=lecture.lead,
        shown=lesson.show,
    )
    run_series(lecture.series, asked, engine, options.as_json, options.as_csv)


def run_list(options: Options) -> None:
    """List the bundled lessons with what each will take."""
    if options.out is not None:
        raise OutputError("--out: found with list (accepted: with a lesson's name)")
    found = [read_lesson(name) for name in lesson_names()]
    costs = [_cost(lecture, options) for lecture in found]
    pairs = list(zip(found, costs, strict=True))
    if options.as_json:
        print(json.dumps({"lessons": [_row(*each) for each in pairs]}, indent=1))
        return
    if options.as_csv:
        rows = [_row(*each) for each in pairs]
        for row in rows:
            row["look_for"], row["vary"] = " ".join(row["look_for"]), "; ".join(row["vary"])
        writer = csv.DictWriter(sys.stdout, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        return
    console = printer()
    shown = plain_table("Lessons")
    for heading in ("name", "title"):
        shown.add_column(heading)
    for heading in ("cells", "light frames", "about", "disk"):
        shown.add_column(heading, justify="right")
    for lecture, cost in pairs:
        figures = (str(cost.cells), str(cost.frames), _time(cost.seconds), on_disk(cost.bytes))
        shown.add_row(lecture.name, lecture.lesson.title, *figures)
    console.print(shown)
    console.print(HOW, highlight=False)


def _cost(lecture: Lecture, options: Options) -> Estimate:
    quality = quality_of(options.quality or lecture.lesson.quality)
    size_px = options.size_px or lecture.lesson.size_px
    return estimate(lecture.series.cells, quality, size_px)


def _row(lecture: Lecture, cost: Estimate) -> dict[str, Any]:
    lesson = lecture.lesson
    return {
        "name": lecture.name,
        "title": lesson.title,
        "vary": list(lesson.vary),
        "exposure": lesson.exposure,
        "look_for": list(lesson.look_for),
        "question": lesson.question or None,
        "cells": cost.cells,
        "frames": cost.frames,
        "seconds": round(cost.seconds),
        "bytes": cost.bytes,
    }


def _time(seconds: float) -> str:
    """A time as it is said: "40 s", "3 min"."""
    if seconds <= SHORT_S:
        return f"{10 * max(1, round(seconds / 10))} s"
    return f"{round(seconds / MINUTE_S)} min"
