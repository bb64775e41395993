"""`tenthstop calibrate SCENE READINGS`: what the meter really said, and what follows from it."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.table import Table

from render.cli.paper import plain_table, printer, signed, spoken, write_csv
from render.errors import OutputError
from render.plan.calibrate.beside import SHADE_STOPS
from render.plan.calibrate.calibrate import Calibration, calibrate
from render.plan.calibrate.kit_entries import OPTION, Entry, check_free, entries
from render.plan.calibrate.kit_replace import REPLACE, Retired, refuse_older, write_readings
from render.plan.calibrate.noted import read_notes
from render.plan.calibrate.told import ReadRow
from render.report.held import ALL
from render.scenefile import load_scene


def run_calibrate(
    scene: str,
    readings: Path,
    bounce: bool,
    engine: str,
    as_json: bool,
    as_csv: bool,
    write: Path | None,
    replace_old: bool,
) -> None:
    """Compare readings with the prediction, print what follows, write it as a kit if wanted."""
    if replace_old and write is None:
        raise OutputError(f"{REPLACE}: nothing is written (accepted: with {OPTION} KIT.toml)")
    setup = load_scene(scene)
    if write is not None:
        check_free(write, replace_old)
        if not replace_old:
            lit = [name for name, light in setup.scene.light.items() if light.on]
            notes = read_notes(readings).notes
            fired = {note.light for note in notes}
            refuse_older(setup, [name for name in lit if fired & {name, ALL}], write)
    with Console(stderr=True).status("Placing and measuring"):
        found = calibrate(setup, readings, bounce=bounce, engine=engine)
    made: tuple[Entry, ...] = ()
    retired: tuple[Retired, ...] = ()
    if write is not None:
        made = entries(setup, found.corrections)
        retired = write_readings(setup, write, found.scene, made)
    if as_json:
        print(json.dumps(asdict(found), indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.readings, ReadRow)
    else:
        show_calibration(found)
    if write is not None:
        out = sys.stderr if as_json or as_csv else sys.stdout
        kits = [(setup.file.parent / name).resolve() for name in setup.scene.kit]
        named = write.resolve() in kits
        say_written(write, named, made, retired, out)


def show_calibration(found: Calibration) -> None:
    """Readings before and after, corrections, and why readings disagree."""
    console = printer()
    title = f"{found.scene}: predicted and read, ISO {found.iso_speed:g}"
    console.print(title, highlight=False)
    console.print(_readings(found))
    if found.not_read:
        words = f"Not read yet and left out: {spoken('; '.join(found.not_read))}."
        console.print(words, highlight=False)
    console.print(_corrections(found))
    words = (
        f"Correction: + is brighter than predicted. ± is one standard error, each reading taken as "
        f"good to {found.noise_stops:g} stop, {SHADE_STOPS:g} where part of the light is hidden. "
    )
    words += "Bounce is in it." if found.bounce else "Without the room's bounce."
    console.print(words, highlight=False)
    for cause in found.causes:
        said = f"{cause.sentence} Noise alone: {_chance(cause.noise_chance)}."
        if cause.cause != "none":
            said += " Mend or measure it, then read again; the corrections above allow for it."
        console.print(said, highlight=False)
    for row in found.next_readings:
        console.print(f"Next reading. {row.sentence}", highlight=False)


def _chance(chance: float) -> str:
    return f"{100 * chance:.1f} %" if chance >= 0.001 else "less than 0.1 %"


def _readings(found: Calibration) -> Table:
    table = plain_table("")
    for heading in ("held at", "fired"):
        table.add_column(heading)
    table.add_column("receptor", no_wrap=True)
    for heading in ("predicted", "read"):
        table.add_column(heading, no_wrap=True)
    table.add_column("off (stops)", justify="right")
    table.add_column("after", no_wrap=True)
    table.add_column("left (stops)", justify="right")
    for row in found.readings:
        table.add_row(
            spoken(row.point),
            "together" if row.light == ALL else f"{row.light} alone",
            row.receptor,
            row.predicted,
            row.read,
            signed(row.off_before_stops, 2),
            row.after,
            signed(row.off_after_stops, 2),
        )
    return table


def _corrections(found: Calibration) -> Table:
    table = plain_table("Corrections")
    for heading in ("light", "flash and modifier"):
        table.add_column(heading)
    for heading in ("readings", "points", "correction (stops)", "±"):
        table.add_column(heading, justify="right")
    table.add_column("was")
    for row in found.corrections:
        table.add_row(
            ", ".join(row.lights),
            " with ".join(name for name in (row.flash, row.modifier) if name) or "–",
            str(row.readings),
            str(row.points),
            signed(row.correction_stops, 2),
            f"{row.standard_error_stops:.2f}",
            row.calibration,
        )
    return table


def say_written(
    file: Path,
    named: bool,
    made: tuple[Entry, ...],
    retired: tuple[Retired, ...],
    out: TextIO,
) -> None:
    """Where the kit is, whether the scene names it, and what became of older readings."""
    how = "the scene names it" if named else f'name it in the scene: kit = ["{file.name}"]'
    count = "1 kit reading" if len(made) == 1 else f"{len(made)} kit readings"
    print(f"{count} written to {file}; {how}.", file=out)
    for each in retired:
        print(
            f"Older readings of {each.words} are comments in {each.file.name} now "
            f"({len(each.indices)}).",
            file=out,
        )
    print("Run meter: it shows what the table calls after, causes left out.", file=out)
