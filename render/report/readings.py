"""What the flash meter will show: every light at every point, alone and together."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout import Layout, place
from render.photometry.exposure import f_number
from render.photometry.stops import f_number_stops, show_f_number, stops
from render.report.held import (
    ALL,
    Held,
    Measured,
    hold,
    measure_until,
    reading_error,
    reference,
)
from render.scenefile import Setup
from render.studio.scene import Aim, Receptor
from render.trace import Engine, Readers

Floats = NDArray[np.float64]

PANEL = "panel."  # begins the names of panels among surfaces
ROUNDING = 1e-9  # of a reading; less than this is nothing
BOUNCE_SAMPLES = 16384  # standard error of about 0.005 stop of the bounce; see tests/bench


@dataclass(frozen=True, slots=True)
class Contribution:
    """Bounced light of a reading that comes last from one surface."""

    surface: str  # a wall, floor, ceiling, backdrop, panel.NAME, sitter, lights
    luminous_exposure_lx_s: float
    standard_error_lx_s: float
    share_of_bounce: float
    adds_stops: float | None  # to the reading without it; None where nothing else arrives


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading; its fields are the keys of the JSON output."""

    point: str
    lights: str  # a light's name, or "all"
    receptor: Receptor
    aim: Aim
    luminous_exposure_lx_s: float
    direct_lx_s: float
    bounce_lx_s: float
    standard_error_stops: float
    f_number: float
    shown: str
    stops_re_key: float | None  # None where nothing arrives
    visible_fraction: float | None  # of the direct light; None where none could arrive
    calibration: str
    bounce_from: tuple[Contribution, ...]  # adds up to bounce_lx_s; brightest first


@dataclass(frozen=True, slots=True)
class WishRow:
    """A wanted reading beside the predicted one."""

    name: str
    point: str
    lights: str
    wanted_f_number: float
    wanted: str
    shown: str
    miss_stops: float | None  # predicted minus wanted


@dataclass(frozen=True, slots=True)
class Readings:
    """The meter table of a scene."""

    scene: str
    iso_speed: float
    re_point: str
    re_light: str
    readings: tuple[Reading, ...]
    wishes: tuple[WishRow, ...]
    mesh_notes: tuple[str, ...] = ()  # what to know about an own mesh


def meter_speed(setup: Setup) -> float:
    """The meter's ISO speed: its own, else the camera's, else 100."""
    scene = setup.scene
    if scene.meter.iso_speed is not None:
        return scene.meter.iso_speed
    return scene.camera.iso_speed if scene.camera is not None else 100.0


def meter(
    setup: Setup,
    *,
    receptor: Receptor | None = None,
    aim: Aim | None = None,
    bounce: bool = True,
    engine: str | Readers = "auto",
    samples: int = BOUNCE_SAMPLES,
    precision_stops: float | None = None,
) -> Readings:
    """Readings of every light alone and of all together at every meter point.

    receptor, aim : None reads each light alone with the flat receptor aimed at it and all
                    together with the dome aimed at the camera; a value uses it for every reading
    bounce        : trace the room's bounce backwards from each receptor
    engine        : "auto", "cuda", "llvm" or "scalar", one that runs, or a crew of workers
    samples       : paths per receptor for the bounce
    precision_stops : standard error that every reading is to have; where that many paths do not
                    reach it, they only tell how many a second, fresh stage takes
    returns       : Readings
    Raises SceneError, KitError, MeshError and, with bounce, EngineError.
    """
    if aim == "camera" and setup.scene.camera is None:
        raise SceneError(setup.file, "camera", "missing", "a [camera] table to aim the meter at")
    # The engine starts while the scene is placed.
    with _opened(engine) if bounce else nullcontext() as running:
        layout = place(setup)
        table = _table(layout, receptor, aim)
        wished = wished_readings(setup, layout, receptor, aim)
        measured = measure_until(layout, table + wished, running, samples, precision_stops)
    rows = [_reading(setup, layout, held, measured, i) for i, held in enumerate(table + wished)]
    re_light = layout.fronts[layout.key].name
    keyed = np.array([r.luminous_exposure_lx_s for r in rows[: len(table)] if r.lights == re_light])
    base = reference(layout, keyed)
    re_point = layout.points[base].name
    if keyed[base] > 0:
        rows = [_against(row, float(keyed[base])) for row in rows]
    wishes = _wishes(setup, rows[len(table) :])
    return Readings(
        setup.scene.title,
        meter_speed(setup),
        re_point,
        re_light,
        tuple(rows[: len(table)]),
        wishes,
        layout.body.notes if layout.body else (),
    )


def _opened(engine: str | Readers) -> AbstractContextManager[Readers]:
    return Engine(engine) if isinstance(engine, str) else nullcontext(engine)


def _table(layout: Layout, receptor: Receptor | None, aim: Aim | None) -> list[Held]:
    """Every light that fires alone, then all together, point by point."""
    lights = [front.name for front in layout.fronts if front.luminous_energy_lm_s > 0]
    return [
        hold(layout, point, light, receptor, aim)
        for point in range(len(layout.points))
        for light in [*lights, ALL]
    ]


def wished_readings(
    setup: Setup, layout: Layout, receptor: Receptor | None = None, aim: Aim | None = None
) -> list[Held]:
    """The receptor held for each wish of the scene; raises SceneError for an impossible wish."""
    names = [point.name for point in layout.points]
    lights = [front.name for front in layout.fronts]
    for name, wish in setup.scene.wanted.items():
        if wish.light != ALL and wish.light not in lights:
            raise SceneError(
                setup.file,
                f"wanted.{name}.light",
                f'no light "{wish.light}"',
                f"one of {', '.join([*lights, ALL])}",
            )
        if (wish.f_number is None) == (wish.stops is None):
            found = "neither f_number nor stops" if wish.stops is None else "f_number beside stops"
            raise SceneError(setup.file, f"wanted.{name}", found, "either f_number or stops")
    return [
        hold(layout, names.index(wish.point), wish.light, receptor, aim)
        for wish in setup.scene.wanted.values()
    ]


def _reading(setup: Setup, layout: Layout, held: Held, measured: Measured, i: int) -> Reading:
    chosen = list(held.chosen(layout))
    direct = float(measured.direct[i, chosen].sum())
    bounced = float(measured.bounce[i, chosen].sum())
    total = direct + bounced
    clear = float(measured.clear[i, chosen].sum())
    constant = setup.scene.meter.c_flat if held.receptor == "flat" else setup.scene.meter.c_dome
    shown = float(f_number(total, meter_speed(setup), constant))
    return Reading(
        point=layout.points[held.point].name,
        lights=held.lights,
        receptor=held.receptor,
        aim=held.aim,
        luminous_exposure_lx_s=total,
        direct_lx_s=direct,
        bounce_lx_s=bounced,
        standard_error_stops=reading_error(layout, held, measured, i),
        f_number=shown,
        shown=show_f_number(shown),
        stops_re_key=None,
        visible_fraction=direct / clear if clear > 0 else None,
        calibration="; ".join(dict.fromkeys(layout.calibrations[j] for j in chosen)),
        bounce_from=_contributions(measured, i, chosen, total),
    )


def _contributions(
    measured: Measured, i: int, chosen: list[int], total: float
) -> tuple[Contribution, ...]:
    """What each surface gives to a reading; panels always, others where they give anything."""
    light = measured.by_surface[i, chosen].sum(0)
    error = np.sqrt((measured.by_surface_error[i, chosen] ** 2).sum(0))
    bounced = float(light.sum())
    found = []
    for name, part, doubt in zip(measured.surfaces, light, error, strict=True):
        if part <= 0 and not name.startswith(PANEL):
            continue
        rest = total - float(part)
        adds = float(stops(total / rest)) if rest > total * ROUNDING else None
        share = float(part) / bounced if bounced > 0 else 0.0
        found.append(Contribution(name, float(part), float(doubt), share, adds))
    return tuple(sorted(found, key=lambda each: -each.luminous_exposure_lx_s))


def _against(row: Reading, base_lx_s: float) -> Reading:
    if row.luminous_exposure_lx_s <= 0:
        return row
    return replace(row, stops_re_key=float(stops(row.luminous_exposure_lx_s / base_lx_s)))


def wanted_f_numbers(setup: Setup) -> list[float]:
    """The f-number that each wish comes to; raises SceneError where none has one."""
    wanted = list(setup.scene.wanted.items())
    anchor = next((wish.f_number for _, wish in wanted if wish.f_number is not None), None)
    if anchor is None and wanted:
        raise SceneError(
            setup.file, "wanted", "only stops, no f-number", "one wish with an f_number"
        )
    return [
        wish.f_number
        if wish.f_number is not None
        else (anchor or 1.0) * 2 ** (0.5 * (wish.stops or 0.0))
        for _, wish in wanted
    ]


def _wishes(setup: Setup, rows: list[Reading]) -> tuple[WishRow, ...]:
    table = []
    wanted = zip(setup.scene.wanted.items(), wanted_f_numbers(setup), rows, strict=True)
    for (name, wish), aim, row in wanted:
        miss = float(f_number_stops(row.f_number) - f_number_stops(aim)) if row.f_number else None
        table.append(
            WishRow(name, wish.point, wish.light, aim, show_f_number(aim), row.shown, miss)
        )
    return tuple(table)
