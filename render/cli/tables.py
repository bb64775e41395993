"""`tenthstop meter` and `tenthstop compare`: tables for people, JSON and CSV for programs."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any, cast

from rich import box
from rich.console import Console
from rich.table import Table

from render.report import Comparison, Reading, Readings, Row, compare, meter
from render.report.comparison import AS_SEEN, MATTE_DIRECT, MATTE_ROOM, WHOLLY_SEEN
from render.report.held import ALL
from render.scenefile import load_scene
from render.studio.scene import Aim, Receptor


def run_meter(
    scene: str,
    chosen: tuple[str | None, str | None],
    bounce: bool,
    engine: str,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Print the meter table."""
    found = meter(
        load_scene(scene),
        receptor=cast(Receptor | None, chosen[0]),
        aim=cast(Aim | None, chosen[1]),
        bounce=bounce,
        engine=engine,
    )
    if as_json:
        print(json.dumps(asdict(found), indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.readings, Reading)
    else:
        show_readings(found, bounce)


def write_csv(rows: Sequence[Any], kind: type) -> None:
    """Rows of a dataclass as CSV on standard output."""
    names = [field.name for field in fields(kind)]
    writer = csv.DictWriter(sys.stdout, names, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: getattr(row, name) for name in names})


def signed(value: float | None, digits: int = 1) -> str:
    """A stop value with its sign; a dash where there is none."""
    return "–" if value is None else f"{value:+.{digits}f}"


def plain_table(title: str) -> Table:
    """A table as in a printed book: rules above and below, no boxes."""
    return Table(title=title, title_justify="left", box=box.SIMPLE, pad_edge=False)


def show_readings(found: Readings, bounce: bool) -> None:
    """The meter table, one line a reading, and the wishes."""
    console = Console()
    table = plain_table(f"{found.scene}: readings at ISO {found.iso_speed:g}")
    table.add_column("held at")
    table.add_column("fired")
    table.add_column("receptor, aimed at")
    for heading in ("reading", "stops re key", "lx·s", "of it bounce", "seen"):
        table.add_column(heading, justify="right")
    point = ""
    for row in found.readings:
        if point and row.point != point:
            table.add_section()
        aimed = {"light": "the key" if row.lights == ALL else "the light"}.get(row.aim, row.aim)
        table.add_row(
            "" if row.point == point else row.point.replace("_", " "),
            row.lights,
            f"{row.receptor}, {aimed}",
            row.shown,
            signed(row.stops_re_key),
            f"{row.luminous_exposure_lx_s:.4g}",
            share(row.bounce_lx_s, row.luminous_exposure_lx_s) if bounce else "–",
            "–" if row.visible_fraction is None else f"{100 * row.visible_fraction:.0f} %",
        )
        point = row.point
    console.print(table)
    words = sorted({row.calibration for row in found.readings if row.lights != ALL})
    error = max(row.standard_error_stops for row in found.readings)
    console.print(
        f"re key: {found.re_light} alone at {found.re_point.replace('_', ' ')}. "
        f"Output of the lights: {'; '.join(words)}. "
        f"Worst standard error of the bounce {error:.3f} stop. "
        "Seen: share of the direct light that nothing hides (hair is not counted as hiding).",
        highlight=False,
    )
    if found.wishes:
        show_wishes(console, found)


def share(part: float, whole: float) -> str:
    """A part of a whole in per cent."""
    return f"{100 * part / whole:.0f} %" if whole > 0 else "–"


def show_wishes(console: Console, found: Readings) -> None:
    """Wanted readings beside the predicted ones."""
    table = plain_table("Wanted")
    for heading in ("wish", "held at", "fired", "wanted", "predicted"):
        table.add_column(heading)
    table.add_column("off by (stops)", justify="right")
    for wish in found.wishes:
        point = wish.point.replace("_", " ")
        table.add_row(
            wish.name, point, wish.lights, wish.wanted, wish.shown, signed(wish.miss_stops)
        )
    console.print(table)


def run_compare(
    scene: str, out: Path | None, quality: str, engine: str, as_json: bool, as_csv: bool
) -> bool:
    """Print the comparison, and on request write the look with its patches marked."""
    from render.cli.pictures import make_look, quality_of, writable
    from render.picture.files import write_image
    from render.picture.marks import marked
    from render.picture.take import LONG_SIDE_PX

    setup = load_scene(scene)
    if out is not None:
        quality_of(quality)
        writable(out)
    found = compare(setup, engine=engine)
    if as_json:
        shown = {field.name: getattr(found, field.name) for field in fields(found)}
        shown["rows"] = [asdict(row) for row in found.rows]
        del shown["layout"]
        print(json.dumps(shown, indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.rows, Row)
    else:
        show_comparison(found)
    if out is not None:
        made = make_look(setup, quality, LONG_SIDE_PX, engine)
        image = marked(made.picture, made.layout)
        write_image(out, image, made.picture.exposure, f"{setup.scene.title}, patches marked")
        if not (as_json or as_csv):
            print(out)
    return found.agrees


def show_comparison(found: Comparison) -> None:
    """One line a point and light: predicted, then what each stage adds."""
    console = Console()
    re_point = found.re_point.replace("_", " ")
    table = plain_table(
        f"{found.scene}: stops re {found.re_light} at {re_point}, predicted and rendered"
    )
    table.add_column("spot on")
    table.add_column("light")
    headings = ("predicted", MATTE_DIRECT, "difference", "±", "verdict", MATTE_ROOM, AS_SEEN)
    for heading in headings:
        table.add_column(heading, justify="left" if heading == "verdict" else "right")
    stages = {(row.point, row.light, row.stage): row for row in found.rows}
    for row in found.rows:
        if row.stage != MATTE_DIRECT:
            continue
        later = [stages[row.point, row.light, stage] for stage in (MATTE_ROOM, AS_SEEN)]
        table.add_row(
            row.point.replace("_", " "),
            row.light,
            signed(row.predicted_stops, 3),
            signed(row.rendered_stops, 3),
            signed(row.difference_stops, 3),
            "–" if row.standard_error_stops is None else f"{row.standard_error_stops:.3f}",
            row.verdict + _hidden(row),
            *(signed(each.rendered_stops, 2) for each in later),
        )
    console.print(table)
    judged = [row for row in found.rows if row.judged]
    agreed = sum(row.verdict == "agrees" for row in judged)
    console.print(
        f"{agreed} of {len(judged)} judged rows agree within 0.02 stop ({found.engine} engine). "
        f"In absolute light the {found.re_light} at {re_point} is rendered "
        f"{found.reference_difference_stops:+.3f} ± {found.reference_error_stops:.3f} stop from "
        "the prediction. Matte with room adds the bounce, as seen adds skin, hair and cloth.",
        highlight=False,
    )


def _hidden(row: Row) -> str:
    if row.visible_fraction >= WHOLLY_SEEN:
        return ""
    words = f"{100 * row.visible_fraction:.0f} % seen"
    return f", {words}" if row.verdict else words
