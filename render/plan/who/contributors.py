"""Who lights a place: every light straight, and by way of each wall, panel and sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.photometry.stops import show_f_number, stops
from render.plan.who.taken import Taken, exposed, reading_of, take, tone_at
from render.plan.who.tones import Tone
from render.report.held import ALL
from render.report.readings import BOUNCE_SAMPLES, meter_speed
from render.scenefile import Setup
from render.studio.scene import Aim, Receptor
from render.trace import Engine

Floats = NDArray[np.float64]

STRAIGHT, REST = "straight", "rest"  # ways of light that are no surface
TOLD_SHARE = 0.98  # of a place's light that is told part by part; the rest is summed


@dataclass(frozen=True, slots=True)
class Part:
    """Light of one lamp that reaches a place one way; its fields are the columns of the CSV."""

    point: str
    light: str  # a light's name; "all" in the last row, which sums what is left
    way: str  # "straight", the surface it comes from last, or "rest"
    luminous_exposure_lx_s: float
    standard_error_lx_s: float
    share: float  # of the place's light
    stops_re_face: float | None
    hidden_share: float | None  # of the straight light; None for other ways


@dataclass(frozen=True, slots=True)
class Lit:
    """A place, its reading with all lights, and whose light it is."""

    point: str
    on: str  # "skin", "cloth", "hair", "backdrop" or "free"
    receptor: Receptor
    aim: Aim
    luminous_exposure_lx_s: float
    standard_error_stops: float
    f_number: float
    shown: str
    stops_re_face: float | None
    tone: Tone | None  # of a backdrop
    parts: tuple[Part, ...]  # brightest first; they add up to the place's light


@dataclass(frozen=True, slots=True)
class Who:
    """Who lights what; its fields are the keys of the JSON output."""

    scene: str
    iso_speed: float  # of the meter
    face_point: str
    face_lights: str
    face_f_number: float
    face_shown: str
    camera_f_number: float | None  # None without a camera: then codes are exposed as the face reads
    camera_iso_speed: float | None
    camera_off_stops: float | None  # the face's light above what the camera is set for
    points: tuple[Lit, ...]


def who(
    setup: Setup, names: Sequence[str] = (), *, engine: Engine | None, samples: int = BOUNCE_SAMPLES
) -> tuple[Who, Taken]:
    """Say who lights which place.

    names   : meter points or landmarks; none takes those of the backdrop, or all where there is
              no backdrop, then the face
    engine  : traces what the room gives back; None leaves that out
    samples : paths per receptor for it
    returns : Who, and the run that it is told from
    Raises OutputError, SceneError, KitError, MeshError, EngineError.
    """
    taken = take(setup, names, engine, samples)
    rows = list(range(taken.places))
    return told(taken, rows if names else [*rows, len(taken.held) - 1]), taken


def told(taken: Taken, rows: Sequence[int]) -> Who:
    """Some places of a run, part by part."""
    setup, face = taken.setup, taken.held[-1]
    reading = reading_of(setup, float(taken.light(-1).sum()), face)
    camera = setup.scene.camera
    off = None
    if camera is not None and reading > 0:
        faster = camera.iso_speed / meter_speed(setup)
        off = float(stops(reading**2 / camera.f_number**2 * faster))
    return Who(
        scene=setup.scene.title,
        iso_speed=meter_speed(setup),
        face_point=taken.layout.points[face.point].name,
        face_lights=face.lights,
        face_f_number=reading,
        face_shown=show_f_number(reading),
        camera_f_number=None if camera is None else camera.f_number,
        camera_iso_speed=None if camera is None else camera.iso_speed,
        camera_off_stops=off,
        points=tuple(_lit(taken, row) for row in rows),
    )


def _lit(taken: Taken, row: int) -> Lit:
    held, total = taken.held[row], float(taken.light(row).sum())
    chosen = list(held.chosen(taken.layout))
    error = float(np.sqrt((taken.measured.error[row, chosen] ** 2).sum()))
    number = reading_of(taken.setup, total, held)
    point = taken.layout.points[held.point]
    return Lit(
        point=point.name,
        on=point.on,
        receptor=held.receptor,
        aim=held.aim,
        luminous_exposure_lx_s=total,
        standard_error_stops=error / total / np.log(2) if total > 0 else 0.0,
        f_number=number,
        shown=show_f_number(number),
        stops_re_face=taken.above(total, row),
        tone=tone_at(taken, row) if point.on == "backdrop" and exposed(taken)[0] > 0 else None,
        parts=_parts(taken, row, chosen, total),
    )


def _parts(taken: Taken, row: int, chosen: list[int], total: float) -> tuple[Part, ...]:
    """What makes up most of a place's light, brightest first, then the sum of what is left."""
    read, name = taken.measured, taken.layout.points[taken.held[row].point].name

    def part(light: str, way: str, value: float, error: float, hidden: float | None = None) -> Part:
        above = taken.above(value, row)
        return Part(name, light, way, value, error, value / total, above, hidden)

    if total <= 0:
        return ()
    found = []
    for j in chosen:
        light, clear = taken.layout.fronts[j].name, float(read.clear[row, j])
        straight = float(read.direct[row, j])
        if clear > 0:
            found.append(part(light, STRAIGHT, straight, 0.0, max(0.0, 1 - straight / clear)))
        for k, surface in enumerate(read.surfaces):
            value, error = read.by_surface[row, j, k], read.by_surface_error[row, j, k]
            if value > 0:
                found.append(part(light, surface, float(value), float(error)))
    found.sort(key=lambda each: -each.luminous_exposure_lx_s)
    before = np.cumsum([0.0, *(each.share for each in found)])[:-1]
    kept = [each for each, sum_ in zip(found, before, strict=True) if sum_ < TOLD_SHARE]
    left = found[len(kept) :]
    if left:
        errors = np.array([each.standard_error_lx_s for each in left])
        value = sum(each.luminous_exposure_lx_s for each in left)
        kept.append(part(ALL, REST, value, float(np.sqrt((errors**2).sum()))))
    return tuple(kept)
