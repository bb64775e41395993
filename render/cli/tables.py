"""`tenthstop meter`: tables for people, JSON and CSV for programs."""

from __future__ import annotations

import json
from contextlib import nullcontext
from dataclasses import asdict
from typing import cast

from rich.console import Console
from rich.table import Table

from render.cli.bounce import panels_that_tell, said, surfaces_table
from render.cli.crews import ALONE, Many, crew
from render.cli.paper import plain_table, printer, share, signed, spoken, write_csv
from render.report import Reading, Readings, meter
from render.report.comparison import WHOLLY_SEEN
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
