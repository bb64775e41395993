"""`tenthstop lights SCENE`: one modifier after the other on the key, as a table and as a sheet."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict, dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table

from render.cli.paper import plain_table, printer, signed, spoken, write_csv
from render.cli.pictures import progress_bar, quality_of, writable
from render.picture.files import write_image
from render.picture.modifiers import Sitting, modifier_plates
from render.picture.sheets import Plate, sheet
from render.picture.take import exposure_of
from render.report.modifiers import TrialRow, Trials, Tried, try_modifiers
from render.report.outfits import read_outfits, usual_outfits
from render.scenefile import load_scene
from render.trace import Engine

FOOT_OF_EYES = "Below the picture: the eye nearer the light."
FOOT = (
    "Same flash, place and aim; power set on the head's dial for one face reading, flat receptor "
    "aimed at the light. Loses: stops against the standard reflector at one power. Shadow edge: of "
    "the nose, from a tenth of the light to nine tenths, across the light. Highlight: mirror image "
    "of the light in a ball as curved as the forehead, width by height. Chin: against the "
    "forehead, straight from the light. Far ear and backdrop: against the face, with what the room "
    "gives back; backdrop: mean of what shows of it. " + FOOT_OF_EYES
)
LAST_COLUMNS = ("chin", "far ear", "backdrop")
LINE_SHARE = 1 / 17  # of a picture's width, for one line of a caption


@dataclass(frozen=True, slots=True)
class Wanted:
    """How the sheet is asked for."""

    out: Path | None  # None for the figures alone
    quality: str
    size_px: int
    columns: int
    all_lights: bool
    close: bool


def run_modifiers(
    scene: str, words: str, wanted: Wanted, engine: str, as_json: bool, as_csv: bool
) -> None:
    """Work out the figures, print them, and draw the sheet where one is wanted."""
    setup = load_scene(scene)
    quality_of(wanted.quality)
    exposure = exposure_of(setup)
    if wanted.out is not None:
        writable(wanted.out)
    outfits = read_outfits(setup, words) if words else usual_outfits(setup)
    with Engine(engine) as running:
        table, tried = try_modifiers(
            setup, outfits, engine=running, others=wanted.all_lights, lenient=not words
        )
        _print(table, as_json, as_csv)
        if wanted.out is None:
            return
        plates = _plates(tried, wanted, running)
    page = sheet(plates, wanted.columns, _heading(table), FOOT, LINE_SHARE)
    written = write_image(wanted.out, page, exposure, f"{table.scene}: its modifiers")
    print(written, file=sys.stderr if as_json or as_csv else sys.stdout)


def _plates(tried: tuple[Tried, ...], wanted: Wanted, engine: Engine) -> list[Plate]:
    """The pictures, each named on standard error when it is done."""
    console, plates = Console(stderr=True), []
    with progress_bar(console) as show:
        for plate in modifier_plates(
            map(_sitting, tried),
            quality=quality_of(wanted.quality),
            long_side_px=wanted.size_px,
            engine=engine,
            close=wanted.close,
            progress=show,
        ):
            plates.append(plate)
            console.print(f"{plate.name} ({len(plates)} of {len(tried)})", highlight=False)
    return plates


def _heading(table: Trials) -> str:
    return (
        f"{table.scene}: one modifier after the other on the {table.light} light, {table.flash}, "
        f"{spoken(table.re_point)} at {table.wanted}, ISO {table.iso_speed:g}"
    )


def _print(table: Trials, as_json: bool, as_csv: bool) -> None:
    if as_json:
        print(json.dumps(asdict(table), indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(table.rows, TrialRow)
    else:
        console = printer()
        console.print(_table(table))
        console.print(_notes(table), highlight=False)


def _table(table: Trials) -> Table:
    shown = plain_table(_heading(table))
    shown.add_column("modifier")
    for heading in ("power", "loses", "room", "edge mm", "highlight mm", *LAST_COLUMNS):
        shown.add_column(heading, justify="right", no_wrap=True)
    for row in table.rows:
        shown.add_row(
            row.name,
            _power(row),
            signed(row.loss_stops),
            signed(row.room_stops),
            _mm(row.edge_mm),
            _highlight(row),
            signed(row.chin_stops),
            signed(row.ear_stops),
            signed(row.spill_stops),
        )
    return shown


def _notes(table: Trials) -> str:
    outputs = "; ".join(sorted({row.calibration for row in table.rows}))
    said = [
        FOOT.removesuffix(FOOT_OF_EYES).strip(),
        "Room: what it adds to the face reading.",
        f"Output of the lights: {outputs}.",
    ]
    if any(row.missing_stops for row in table.rows):
        said.append("* the head cannot: the picture is lifted or held back by what is missing.")
    if table.left_out:
        said.append(f"Left out: {'; '.join(table.left_out)}.")
    return " ".join(said)


def _sitting(tried: Tried) -> Sitting:
    row = tried.row
    return Sitting(row.name, caption(row), tried.setup, row.missing_stops)


def caption(row: TrialRow) -> tuple[str, ...]:
    """What stands under a picture, line by line."""
    edge = "falls past the face" if row.edge_mm is None else f"{_mm(row.edge_mm)} mm"
    short = f", picture {signed(row.missing_stops)}" if row.missing_stops else ""
    return (
        row.name,
        f"power {row.power_shown}{short}",
        _loss(row),
        f"shadow edge {edge}",
        f"highlight {_highlight(row)} mm",
        f"chin {signed(row.chin_stops)}, far ear {signed(row.ear_stops)}",
        f"backdrop {signed(row.spill_stops)}",
    )


def _loss(row: TrialRow) -> str:
    if row.loss_stops is None:
        return "no light on the face"
    loss = round(row.loss_stops, 1)
    return f"{'loses' if loss >= 0 else 'gains'} {abs(loss):.1f} stops"


def _power(row: TrialRow) -> str:
    return row.power_shown + ("*" if row.missing_stops else "")


def _mm(value: float | None) -> str:
    """Whole millimetres, tenths below ten."""
    if value is None:
        return "–"
    return f"{value:.1f}" if value < 10 else f"{value:.0f}"


def _highlight(row: TrialRow) -> str:
    if row.highlight_width_mm is None:
        return "–"
    return f"{_mm(row.highlight_width_mm)} x {_mm(row.highlight_height_mm)}"
