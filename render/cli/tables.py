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
from render.report.comparison import (
    AGREES_STOPS,
    AS_SEEN,
    MATTE_DIRECT,
    MATTE_ROOM,
    WHOLLY_SEEN,
)
from render.report.held import ALL
from render.report.readings import PANEL
from render.scenefile import load_scene
from render.studio.scene import Aim, Receptor


def run_meter(
    scene: str,
    chosen: tuple[str | None, str | None],
    bounce: bool,
    engine: str,
    as_json: bool,
    as_csv: bool,
    detail: bool = False,
    bounced_by: bool = False,
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
        show_readings(found, bounce, detail, bounced_by)


def write_csv(rows: Sequence[Any], kind: type) -> None:
    """Rows of a dataclass as CSV on standard output."""
    names = [field.name for field in fields(kind)]
    writer = csv.DictWriter(sys.stdout, names, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(getattr(row, name)) for name in names})


def _cell(value: Any) -> Any:
    """A value of a CSV file; surfaces as "panel.chin 1.25; ceiling 0.5" [lx·s], sizes "60 90"."""
    if not isinstance(value, tuple):
        return value
    if value and isinstance(value[0], float):
        return " ".join(f"{number:.6g}" for number in value)
    return "; ".join(f"{each.surface} {each.luminous_exposure_lx_s:.6g}" for each in value)


def signed(value: float | None, digits: int = 1) -> str:
    """A stop value with its sign; a dash where there is none."""
    if value is None:
        return "–"
    return f"{round(value, digits) + 0.0:+.{digits}f}"  # + 0.0 turns -0.0 into +0.0


def plain_table(title: str) -> Table:
    """A table as in a printed book: rules above and below, no boxes."""
    return Table(
        title=title, title_justify="left", box=box.SIMPLE, pad_edge=False, padding=(0, 1, 0, 0)
    )


LEAST_ADDED_STOPS = 0.05  # a panel that adds less shows as +0.0
PAPER_COLUMNS = 110  # width of a table that goes to a file or a pipe


def printer() -> Console:
    """A console as wide as the terminal, or as a page where there is none; prints as it is told.

    Brackets and colons in titles and names are no markup.
    """
    width = None if sys.stdout.isatty() else PAPER_COLUMNS
    return Console(width=width, markup=False, emoji=False)


def show_readings(found: Readings, bounce: bool, detail: bool, bounced_by: bool = False) -> None:
    """The meter table and the wishes."""
    console = printer()
    console.print(_detailed(found, bounce) if detail else _compact(found, bounce))
    words = sorted({row.calibration for row in found.readings if row.lights != ALL})
    alone = next(row for row in found.readings if row.lights != ALL)
    together = next(row for row in found.readings if row.lights == ALL)
    console.print(
        f"Alone: {alone.receptor}, aimed at {_target(alone)}; together: {together.receptor}, aimed "
        f"at {_target(together)}. Stops are relative to {found.re_light} alone at "
        f"{spoken(found.re_point)}. Output of the lights: {'; '.join(words)}. "
        "* part of the light is hidden by sitter, panel or another light (hair hides nothing here)."
        + (" Bounce: share of the room in the reading of all lights." if bounce else ""),
        highlight=False,
    )
    if bounced_by and bounce:
        console.print()
        console.print(_surfaces(found))
    if found.mesh_notes:
        console.print(f"Own mesh: {'; '.join(found.mesh_notes)}.", highlight=False)
    if found.wishes:
        console.print()
        show_wishes(console, found)


def spoken(name: str) -> str:
    """A point's name as it is said."""
    return name.replace("_", " ")


def _target(row: Reading) -> str:
    if row.aim == "normal":
        return "what the surface faces"
    return f"the {row.aim}" if row.lights != ALL or row.aim != "light" else "the key"


def _compact(found: Readings, bounce: bool) -> Table:
    """One line a point: each light alone and all together, each with its stops from the key."""
    lights = list(dict.fromkeys(row.lights for row in found.readings))
    table = plain_table(
        f"{found.scene}: each light alone, then all together, at ISO {found.iso_speed:g}"
    )
    table.add_column("held at")
    for light in lights:
        table.add_column("together" if light == ALL else light, no_wrap=True)
        table.add_column("stops", justify="right", no_wrap=True)
    if bounce:
        table.add_column("bounce", justify="right", no_wrap=True)
    rows = {(row.point, row.lights): row for row in found.readings}
    for point in dict.fromkeys(row.point for row in found.readings):
        cells = []
        for light in lights:
            row = rows[point, light]
            cells += [_shown(row), signed(row.stops_re_key)]
        if bounce:
            last = rows[point, ALL]
            cells.append(share(last.bounce_lx_s, last.luminous_exposure_lx_s))
        table.add_row(spoken(point), *cells)
        for panel, added in _panels([rows[point, light] for light in lights]):
            cells = [cell for stop in added for cell in ("", signed(stop))]
            table.add_row(f"  {_said(panel)} adds", *cells)
    return table


def _panels(rows: list[Reading]) -> list[tuple[str, list[float | None]]]:
    """Panels that tell in the last reading of a place, with what each adds to all of them."""
    added = {
        (each.surface, k): each.adds_stops
        for k, row in enumerate(rows)
        for each in row.bounce_from
        if each.surface.startswith(PANEL) and each.luminous_exposure_lx_s > 0
    }
    panels = dict.fromkeys(name for name, _ in added)
    found = [(name, [added.get((name, k)) for k in range(len(rows))]) for name in panels]
    return [each for each in found if (each[1][-1] or 0.0) >= LEAST_ADDED_STOPS]


def _said(surface: str) -> str:
    """A surface's name as it is said: "panel.chin" is the panel chin."""
    return spoken(surface.replace(".", " "))


def _surfaces(found: Readings) -> Table:
    """For all lights together, the surfaces that the bounce of each point comes from last."""
    table = plain_table("Bounce of all lights together, by the surface it comes from last")
    for heading in ("held at", "surface"):
        table.add_column(heading, no_wrap=True)
    for heading in ("lx·s", "±", "of bounce", "adds (stops)"):
        table.add_column(heading, justify="right", no_wrap=True)
    for row in (row for row in found.readings if row.lights == ALL):
        for k, each in enumerate(row.bounce_from):
            table.add_row(
                "" if k else spoken(row.point),
                _said(each.surface),
                f"{each.luminous_exposure_lx_s:.3g}",
                f"{each.standard_error_lx_s:.1g}",
                f"{100 * each.share_of_bounce:.0f} %",
                signed(each.adds_stops, 2),
            )
        table.add_section()
    return table


def _shown(row: Reading) -> str:
    if row.f_number < 1:
        return "under f/1"
    hidden = row.lights != ALL and row.visible_fraction is not None
    return row.shown + ("*" if hidden and (row.visible_fraction or 0) < WHOLLY_SEEN else "")


def _detailed(found: Readings, bounce: bool) -> Table:
    """One line a reading with everything that is known about it."""
    table = plain_table(f"{found.scene}: readings at ISO {found.iso_speed:g}")
    for heading in ("held at", "fired", "receptor", "aimed at"):
        table.add_column(heading, no_wrap=True)
    for heading in ("reading", "stops", "lx·s", "bounce", "±", "seen"):
        table.add_column(heading, justify="right", no_wrap=True)
    point = ""
    for row in found.readings:
        if point and row.point != point:
            table.add_section()
        seen = "–" if row.visible_fraction is None else f"{100 * row.visible_fraction:.0f} %"
        table.add_row(
            "" if row.point == point else spoken(row.point),
            row.lights,
            row.receptor,
            row.aim,
            row.shown,
            signed(row.stops_re_key),
            f"{row.luminous_exposure_lx_s:.4g}",
            share(row.bounce_lx_s, row.luminous_exposure_lx_s) if bounce else "–",
            f"{row.standard_error_stops:.3f}",
            seen,
        )
        point = row.point
    return table


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
        table.add_row(
            wish.name,
            spoken(wish.point),
            "together" if wish.lights == ALL else f"{wish.lights} alone",
            wish.wanted,
            wish.shown,
            signed(wish.miss_stops),
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
        print(json.dumps(shown, indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.rows, Row)
    else:
        show_comparison(found)
    if out is not None:
        made = make_look(setup, quality, LONG_SIDE_PX, engine)
        image = marked(made.picture, made.layout, found.in_sight)
        write_image(out, image, made.picture.exposure, f"{setup.scene.title}, patches marked")
        if not (as_json or as_csv):
            print(out)
    return found.agrees


def show_comparison(found: Comparison) -> None:
    """One line a point and light: predicted, then what each stage adds."""
    console = printer()
    re_point = spoken(found.re_point)
    table = plain_table(f"{found.scene}: stops relative to {found.re_light} at {re_point}")
    table.add_column("spot on")
    table.add_column("light", no_wrap=True)
    for heading in ("predicted", MATTE_DIRECT, "differs by", "±"):
        table.add_column(heading, justify="right", min_width=6)
    table.add_column("verdict", no_wrap=True)
    for heading in (MATTE_ROOM, AS_SEEN):
        table.add_column(heading, justify="right", min_width=6)
    stages = {(row.point, row.light, row.stage): row for row in found.rows}
    for row in found.rows:
        if row.stage != MATTE_DIRECT:
            continue
        later = [stages[row.point, row.light, stage] for stage in (MATTE_ROOM, AS_SEEN)]
        table.add_row(
            spoken(row.point) + ("*" if row.visible_fraction < WHOLLY_SEEN else ""),
            row.light,
            signed(row.predicted_stops, 3),
            signed(row.rendered_stops, 3),
            signed(row.difference_stops, 3),
            "–" if row.standard_error_stops is None else f"{row.standard_error_stops:.3f}",
            row.verdict or "not judged",
            *(signed(each.rendered_stops, 2) for each in later),
        )
    console.print(table)
    judged = [row for row in found.rows if row.judged]
    agreed = sum(row.verdict == "agrees" for row in judged)
    console.print(
        f"{agreed} of {len(judged)} judged rows agree within {AGREES_STOPS} stop ({found.engine} "
        f"engine). In absolute light, {found.re_light} at {re_point} is rendered "
        f"{found.reference_difference_stops:+.3f} ± {found.reference_error_stops:.3f} stop from "
        f"the prediction. {MATTE_ROOM.capitalize()} adds the bounce; {AS_SEEN} adds real skin, "
        "hair and cloth, seen from the camera. * part of the light is hidden.",
        highlight=False,
    )
