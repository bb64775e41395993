"""`tenthstop compare`: predicted beside rendered stops, for people, as JSON and CSV."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from pathlib import Path

from render.cli.crews import ALONE, Many, crew
from render.cli.paper import plain_table, printer, signed, spoken, write_csv
from render.cli.tables import least_sure
from render.report import Comparison, Row, compare
from render.report.comparison import AGREES_STOPS, WHOLLY_SEEN
from render.report.spotting import AS_SEEN, MATTE_DIRECT, MATTE_ROOM
from render.scenefile import load_scene


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
