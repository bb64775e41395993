"""What a student reads off one cell: readings, ratios, shadow edge, falloff, backdrop, pattern."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from render.layout import Layout
from render.photometry.stops import (
    f_number_stops,
    key_to_fill,
    lighting_ratio,
    show_f_number,
    show_power,
    stops,
)
from render.plan.checks.face import nose_axes
from render.plan.checks.face_shadow import face_shadow
from render.plan.checks.finding import Context
from render.plan.checks.pattern import no_pattern, pattern_name, shape_of
from render.plan.who.taken import Taken, reading_of, tone_at
from render.predict.softness import nose_shadow
from render.report.modifiers import shadow_edge_mm
from render.scenefile import Setup
from render.series.cells import Cell
from render.series.run import Run
from render.series.turned import Turned, face_number

Exposure = Literal["kept", "re-metered"]


@dataclass(frozen=True, slots=True)
class PointReading:
    """One reading of a cell; its fields are keys of the JSON output."""

    point: str
    wish: str | None  # the wanted reading that it is, where one light alone is asked for
    lights: str
    receptor: str
    aim: str
    luminous_exposure_lx_s: float
    standard_error_stops: float
    f_number: float
    shown: str
    stops_re_first: float | None  # against the first cell


@dataclass(frozen=True, slots=True)
class Drawn:
    """What the place of the key does, at whatever power."""

    edge_mm: float | None
    pattern: str | None


@dataclass(frozen=True, slots=True)
class CellRow:
    """One cell; its fields are keys of the JSON output."""

    cell: int
    change: str
    values: tuple[str, ...]  # as written; "-" where the key is left out
    exposure: Exposure
    key: str  # the light that figures of the key are of
    key_power: float  # share of full
    key_power_shown: str
    key_change_stops: float  # from what the scene file says
    key_beyond_dial_stops: float  # what the head lacks of it; negative where its least is too much
    face_point: str
    face_f_number: float
    face_shown: str
    face_stops_re_first: float | None
    standard_error_stops: float
    key_to_fill: float | None  # K:F
    lighting_ratio: float | None  # (K+F):F
    shadow_side_stops: float | None  # shadow cheek against key cheek, along the skin
    edge_mm: float | None  # of the nose's shadow, from a tenth of the light to nine tenths
    falloff_stops: float | None  # key at the far ear against the key cheek, by place alone
    backdrop_code: float | None
    backdrop_word: str | None
    pattern: str | None
    readings: tuple[PointReading, ...]


def drawn(setup: Setup, layout: Layout) -> Drawn:
    """Shadow edge and pattern of the key of a set that stands already."""
    body, sitter, front = layout.body, setup.scene.sitter, layout.fronts[layout.key]
    if body is None or sitter is None:
        return Drawn(None, None)
    edge, _ = shadow_edge_mm(layout, nose_shadow(body, front))
    context = Context(setup)
    vars(context)["layout"] = layout  # which it would place again
    if no_pattern(context):
        return Drawn(edge, None)
    nose, tip = nose_axes(sitter), body.landmarks["nose_tip"].position_m.astype(float)
    shape = shape_of(face_shadow(body, context.sitter, nose, front.centre_m))
    return Drawn(edge, pattern_name(shape, nose.angles_deg(front.centre_m - tip)[1]))


def cell_row(cell: Cell, made: Turned, look: Drawn, exposure: Exposure) -> CellRow:
    """The figures of a cell whose run is exposed in one way."""
    run, taken = made.run, made.run.taken
    face = face_number(run)
    key, fill = _key_and_fill(run)
    tone = tone_at(taken, run.rows.backdrop) if run.rows.backdrop is not None else None
    return CellRow(
        cell=cell.number,
        change=cell.change,
        values=tuple(value.text for value in cell.values),
        exposure=exposure,
        key=taken.layout.fronts[run.key].name,
        key_power=made.power,
        key_power_shown=show_power(made.power) if made.power <= 1 else _over_full(made.power),
        key_change_stops=made.change_stops,
        key_beyond_dial_stops=made.beyond_stops,
        face_point=taken.layout.points[taken.held[-1].point].name,
        face_f_number=face,
        face_shown=show_f_number(face),
        face_stops_re_first=None,
        standard_error_stops=_error_stops(taken, -1),
        key_to_fill=float(key_to_fill(key, fill)) if key and fill else None,
        lighting_ratio=float(lighting_ratio(key, fill)) if key and fill else None,
        shadow_side_stops=_apart(taken, run.rows.shadow_cheek, run.rows.key_cheek),
        edge_mm=look.edge_mm,
        falloff_stops=_falloff(run),
        backdrop_code=None if tone is None else tone.code,
        backdrop_word=None if tone is None else tone.word,
        pattern=look.pattern,
        readings=_readings(run),
    )


def against(row: CellRow, first: CellRow) -> CellRow:
    """The row with its readings told against those of the first cell."""
    before = {(r.point, r.wish): r.f_number for r in first.readings}
    readings = tuple(
        replace(r, stops_re_first=_stops_between(r.f_number, before.get((r.point, r.wish))))
        for r in row.readings
    )
    face = _stops_between(row.face_f_number, first.face_f_number)
    return replace(row, readings=readings, face_stops_re_first=face)


def _stops_between(number: float, first: float | None) -> float | None:
    if not number or not first:
        return None
    return float(f_number_stops(number) - f_number_stops(first))


def _over_full(power: float) -> str:
    return f"1/1 +{float(stops(power)):.1f}"


def _readings(run: Run) -> tuple[PointReading, ...]:
    asked: list[tuple[str | None, int]] = [(None, row) for row in run.rows.points]
    return tuple(_reading(run.taken, name, row) for name, row in [*asked, *run.rows.wishes])


def _reading(taken: Taken, wish: str | None, row: int) -> PointReading:
    held, total = taken.held[row], float(taken.light(row).sum())
    number = reading_of(taken.setup, total, held)
    return PointReading(
        point=taken.layout.points[held.point].name,
        wish=wish,
        lights=held.lights,
        receptor=held.receptor,
        aim=held.aim,
        luminous_exposure_lx_s=total,
        standard_error_stops=_error_stops(taken, row),
        f_number=number,
        shown=show_f_number(number),
        stops_re_first=None,
    )


def _error_stops(taken: Taken, row: int) -> float:
    total = float(taken.light(row).sum())
    chosen = list(taken.held[row].chosen(taken.layout))
    error = float(np.sqrt((taken.measured.error[row, chosen] ** 2).sum()))
    return error / total / float(np.log(2)) if total > 0 else 0.0


def _apart(taken: Taken, row: int | None, base: int | None) -> float | None:
    if row is None or base is None:
        return None
    light, before = float(taken.light(row).sum()), float(taken.light(base).sum())
    return float(stops(light / before)) if light > 0 and before > 0 else None


def _key_and_fill(run: Run) -> tuple[float | None, float | None]:
    """K, the key's straight light at the key cheek; F, what fills the shadow cheek [lx·s].

    The receptor is flat. For K it is aimed at the key; for F at the camera, the key's straight
    light held off: fill lights, and what room and panels give back of them and of the key.
    """
    read, rows = run.taken.measured, run.rows
    if rows.key_on_cheek is None or rows.camera_on_shadow is None:
        return None, None
    key = float(read.direct[rows.key_on_cheek, run.key])
    fills = list(rows.fills)
    fill = float(read.direct[rows.camera_on_shadow, fills].sum())
    fill += float(read.bounce[rows.camera_on_shadow, [run.key, *fills]].sum())
    return key, fill


def _falloff(run: Run) -> float | None:
    rows, clear = run.rows, run.taken.measured.clear
    if rows.key_on_ear is None or rows.key_on_cheek is None:
        return None
    ear, cheek = float(clear[rows.key_on_ear, run.key]), float(clear[rows.key_on_cheek, run.key])
    return float(stops(ear / cheek)) if ear > 0 and cheek > 0 else None
