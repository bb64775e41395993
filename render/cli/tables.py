"""`tenthstop meter` and `tenthstop compare`: tables for people, JSON and CSV for programs."""

from __future__ import annotations

import json
from contextlib import nullcontext
from dataclasses import asdict, fields
from pathlib import Path
from typing import cast

from rich.console import Console
from rich.table import Table

from render.cli.bounce import panels_that_tell, said, surfaces_table
from render.cli.crews import ALONE, Many, crew
from render.cli.paper import plain_table, printer, share, signed, spoken, write_csv
from render.report import Comparison, Reading, Readings, Row, compare, meter
from render.report.comparison import AGREES_STOPS, WHOLLY_SEEN
from render.report.held import ALL
from render.report.spotting import AS_SEEN, MATTE_DIRECT, MATTE_ROOM
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
    many: Many = ALONE,
    precision: float | None = None,
) -> None:
    """Print the meter table."""
    setup = load_scene(scene)
    with crew(engine, *many) if bounce else nullcontext(engine) as tracing:
        found = meter(
            setup,
            receptor=cast(Receptor | None, chosen[0]),
            aim=cast(Aim | None, chosen[1]),
            bounce=bounce,
            engine=tracing,
            precision_stops=precision,
        )
    if as_json:
        print(json.dumps(asdict(found), indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.readings, Reading)
    else:
        show_readings(found, bounce, detail, bounced_by)
        if precision is not None:
            print(least_sure([row.standard_error_stops for row in found.readings]))


def least_sure(errors: list[float]) -> str:
    """The sentence of --precision."""
    return f"\nLargest standard error of a reading: {max(errors, default=0.0):.4f} stop."


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
        console.print(surfaces_table(found))
    if found.mesh_notes:
        console.print(f"Own mesh: {'; '.join(found.mesh_notes)}.", highlight=False)
    if found.wishes:
        console.print()
        show_wishes(console, found)


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
        for panel, added in panels_that_tell([rows[point, light] for light in lights]):
            cells = [cell for stop in added for cell in ("", signed(stop))]
            table.add_row(f"  {said(panel)} adds", *cells)
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
    scene: str,
    out: Path | None,
    quality: str,
    engine: str,
    as_json: bool,
    as_csv: bool,
    many: Many = ALONE,
    precision: float | None = None,
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
    with crew(engine, *many) as tracing:
        found = compare(setup, engine=tracing, precision_stops=precision)
        made = None if out is None else make_look(setup, quality, LONG_SIDE_PX, tracing)
    if as_json:
        shown = {field.name: getattr(found, field.name) for field in fields(found)}
        shown["rows"] = [asdict(row) for row in found.rows]
        print(json.dumps(shown, indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.rows, Row)
    else:
        show_comparison(found)
        if precision is not None:
            print(least_sure([row.standard_error_stops or 0.0 for row in found.rows]))
    if out is not None and made is not None:
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
