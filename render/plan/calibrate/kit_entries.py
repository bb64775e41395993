"""Corrections as kit readings: what the meter would show straight ahead of each light."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import tomlkit

from render.emission.output import axial_exposure
from render.errors import OutputError
from render.layout.calibration import readings_of
from render.layout.lamps import light_alone
from render.photometry.exposure import f_number
from render.photometry.stops import show_f_number, show_power
from render.plan.calibrate.told import Correction
from render.report.readings import meter_speed
from render.scenefile import Setup
from render.scenefile.kits import ReadingPlace
from render.studio.kit import KitReading
from render.studio.part import share_of_full
from render.writing import in_place_of

OPTION = "--write"
NOTHING = f"{OPTION}: nothing to write (accepted: readings of a flash with a modifier of the kit)"
AHEAD_M = 0.7  # clear of every bundled modifier, and so near that the kit allows for no walls
FIGURES = 5  # of an f-number; a thousandth of a stop


class Entry(NamedTuple):
    """A reading for the kit, and what is known about it."""

    reading: KitReading
    correction: Correction


def check_free(file: Path, replace_old: bool = False) -> None:
    """Raise OutputError for a file that is there, unless it is added to, or cannot be made."""
    if file.suffix != ".toml":
        raise OutputError(f'{OPTION}: found "{file}" (accepted: a name that ends in .toml)')
    if os.path.lexists(file) and not replace_old:
        raise OutputError(
            f"{OPTION}: {file} is there already (accepted: a new name, or --replace, which adds to "
            "it)"
        )
    if not os.access(file.parent, os.W_OK):
        raise OutputError(
            f"{OPTION}: {file.parent} cannot be written (accepted: a folder that can)"
        )


def entries(setup: Setup, found: Iterable[Correction]) -> tuple[Entry, ...]:
    """Readings straight ahead that make the kit show the corrected light.

    Lights without a flash and a modifier of the kit are left out. Raises KitError where the
    corrected light is more or less than such a flash can give.
    """
    made = []
    for correction in found:
        if correction.flash is None or correction.modifier is None:
            continue
        reading = _reading(setup, correction)
        alone = replace(
            setup,
            kit=setup.kit.model_copy(update={"reading": (reading,)}),
            reading_places=(ReadingPlace(Path("corrected"), correction.lights[0]),),
        )
        readings_of(alone, reading.flash, reading.modifier)
        made.append(Entry(reading, correction))
    return tuple(made)


def _reading(setup: Setup, correction: Correction) -> KitReading:
    """What a flat receptor would show AHEAD_M in front of the light, nothing else in the room."""
    light = setup.scene.light[correction.lights[0]]
    front, _ = light_alone(setup, light)
    distance = AHEAD_M - float(front.centre_m[2])
    exposure = axial_exposure(front, distance, "flat") * 2.0**correction.correction_stops
    speed = meter_speed(setup)
    shown = float(f_number(exposure, speed, setup.scene.meter.c_flat))
    date = correction.date
    return KitReading(
        flash=str(light.flash),
        modifier=str(light.modifier),
        power=light.power,
        distance_m=AHEAD_M,
        iso_speed=speed,
        f_number=float(f"{shown:.{FIGURES}g}"),
        diffusers=light.diffusers,
        grid=light.grid,
        grid_deg=light.grid_deg,
        gel=light.gel,
        nd=light.nd,
        date=datetime.date.fromisoformat(date) if date else datetime.date.today(),
    )


def tables(scene: str, found: Iterable[Entry]) -> str:
    """Readings as the text of a kit file."""
    page = tomlkit.document()
    page.add(tomlkit.comment(" ".join(f"Worked out from meter readings of: {scene}".split())))
    page.add(tomlkit.comment("As if read straight ahead of each front, without the room."))
    made = tomlkit.aot()
    for each in found:
        made.append(_table(each))
    page.add("reading", made)
    return tomlkit.dumps(page)


def _table(entry: Entry) -> tomlkit.items.Table:
    table = tomlkit.table()
    change = entry.correction
    table.add(
        tomlkit.comment(
            f"{', '.join(change.lights)}: {round(change.correction_stops, 2) + 0.0:+.2f} stop "
            f"±{change.standard_error_stops:.2f} from {_count(change.readings)}; "
            f"{show_f_number(entry.reading.f_number)} on the meter"
        )
    )
    for key, value in entry.reading.model_dump(exclude_defaults=True).items():
        plain = list(value) if isinstance(value, tuple) else value
        table.add(key, _dial(entry.reading.power) if key == "power" else plain)
    return table


def _dial(power: float) -> str | float:
    """A power as its marking where that says it exactly enough, else as a number."""
    marking = show_power(power)
    return marking if abs(share_of_full(marking) / power - 1) < 1e-6 else power


def put(file: Path, text: str, over: bool = False) -> None:
    """Write beside the file, then take its name; one that has come up meanwhile stays.

    over : write over what is there
    """
    try:
        with in_place_of(file, new=not over) as part:
            part.write_text(text, encoding="utf-8")
    except FileExistsError:
        raise FileExistsError(0, "is there already") from None


def _count(readings: int) -> str:
    return "1 reading" if readings == 1 else f"{readings} readings"
