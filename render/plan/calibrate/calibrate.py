"""What the meter really said against the prediction: corrections, how sure, and why."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path

from render.plan.calibrate.beside import NOISE_STOPS, beside, open_page
from render.plan.calibrate.causes import find_causes
from render.plan.calibrate.further import further
from render.plan.calibrate.noted import read_notes
from render.plan.calibrate.places import placed
from render.plan.calibrate.told import (
    CauseRow,
    Correction,
    NextRow,
    ReadRow,
    cause_rows,
    corrections,
    next_rows,
    read_rows,
)
from render.report.held import measure
from render.report.readings import BOUNCE_SAMPLES, meter_speed
from render.scenefile import Setup
from render.trace import Engine


@dataclass(frozen=True, slots=True)
class Calibration:
    """The outcome; its fields are the keys of the JSON output."""

    scene: str
    iso_speed: float
    noise_stops: float
    bounce: bool
    not_read: tuple[str, ...]  # light and place of rows without an f-number
    readings: tuple[ReadRow, ...]
    corrections: tuple[Correction, ...]
    causes: tuple[CauseRow, ...]
    next_readings: tuple[NextRow, ...]  # of lights whose readings have more than one explanation


def calibrate(
    setup: Setup,
    file: Path,
    *,
    bounce: bool = True,
    engine: str = "auto",
    samples: int = BOUNCE_SAMPLES,
) -> Calibration:
    """Corrections that bring the prediction to a file of readings, with what does not fit.

    file    : TOML or CSV, see `read_notes`
    bounce  : trace the room's bounce; engine, samples as of `meter`
    Raises ReadingsError for a reading that cannot be true, SceneError, KitError, MeshError,
    EngineError.
    """
    book = read_notes(file)
    with Engine(engine) if bounce else nullcontext() as running:
        page = open_page(setup, placed(setup, file, book.own), file, book)
        taken = beside(page, measure(page.layout, page.held, running, samples))
        best, found = find_causes(page.layout, page.held, taken, page.ahead)
        chosen = {each.cause.lamp: each.cause for each in found}
        unsure = further(page, taken, chosen, running)
    return Calibration(
        setup.scene.title,
        meter_speed(setup),
        NOISE_STOPS,
        bounce,
        book.blank,
        read_rows(page, taken, best),
        corrections(page, taken, best),
        cause_rows(page, taken, best, found),
        next_rows(page, unsure),
    )
