"""The whole state of the page as plain data: what `GET /api/set` answers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from render.card.content import gear_words
from render.card.tape import aim_m, middle_of
from render.card.words import spoken
from render.emission import Front
from render.layout.geometry import direction
from render.layout.lamps import role
from render.layout.tints import light_tint
from render.page import outlook, written
from render.page.making import WORDS
from render.page.standing import Standing
from render.photometry.exposure import linear_value
from render.photometry.stops import stops
from render.plan.balance.dials import Dial, dials, marking
from render.plan.checks import Finding
from render.report.held import Held, reference
from render.report.readings import meter_speed

# Frames leave as half floats, times this: a face near its key, a backdrop far off and the cloth of
# a bare tube all lie well inside their range, 6e-5 to 65504.
FRAME_UNIT = 64.0
DIGITS = 6  # of light, in figures that count


@dataclass(frozen=True, slots=True)
class FrameState:
    """How far the picture of one light is."""

    digest: str
    samples: int  # per pixel that are there
    of: int


def light_rows(standing: Standing, frames: Mapping[str, FrameState]) -> list[dict[str, Any]]:
    """Every light: gear, power, place, and what the browser mixes its picture by."""
    turned = dials(standing.firing, idle=True)
    return [
        _light(standing, front, dial, frames.get(front.name))
        for front, dial in zip(standing.layout.fronts, turned, strict=True)
    ]


def _light(
    standing: Standing, front: Front, dial: Dial, frame: FrameState | None
) -> dict[str, Any]:
    setup, name = standing.setup, front.name
    light = setup.scene.light[name]
    meter = setup.scene.meter
    energy = front.luminous_energy_lm_s / light.power
    return {
        "name": name,
        "role": role(name, light),
        "on": light.on,
        "modifier": light.modifier,
        "words": gear_words(setup, light),
        "power_stops": float(stops(light.power)),
        "power_shown": "as stated" if light.flash is None else marking(dial.now, dial.step),
        "least_stops": dial.least,
        "step_stops": dial.step,
        "fixed": light.fixed or not dial.turns,
        **_placed(standing, front),
        **written.light_keys(light),
        "corners": outlook.front_corners(front),
        "axis": outlook.numbers(front.normal, 6),
        "colour": list(light_tint(setup, name, light).colour),
        "frame": None if frame is None else _frame(frame),
        "gain": energy * float(linear_value(1.0, 100.0, 1.0, meter.c_flat)) / FRAME_UNIT,
    }


def _placed(standing: Standing, front: Front) -> dict[str, Any]:
    """Where a light is, and how its scene file says so."""
    light, middle = standing.setup.scene.light[front.name], middle_of(front)
    found: dict[str, Any] = {
        "centre": outlook.numbers(middle),
        "aim_at": outlook.numbers(aim_m(standing.setup, standing.layout, front)),
        "position_m": None if light.position_m is None else list(light.position_m),
        "placed": None,
    }
    if light.azimuth_deg is not None and light.distance_m is not None:
        away = light.distance_m * direction(light.azimuth_deg, light.elevation_deg)
        found["placed"] = {
            "distance_m": light.distance_m,
            "azimuth_deg": light.azimuth_deg,
            "elevation_deg": light.elevation_deg,
            "around": light.around,
            "around_at": outlook.numbers(middle - away),
        }
    return found


def _frame(frame: FrameState) -> dict[str, Any]:
    return {
        "digest": frame.digest,
        "ready": frame.samples > 0,
        "samples": min(frame.samples, frame.of),
        "of": frame.of,
    }


def point_rows(standing: Standing) -> list[dict[str, Any]]:
    """Every meter point with the light of each lamp there, alone and in the reading of all."""
    layout, count = standing.layout, len(standing.layout.fronts)
    full, rows = standing.full, []
    for i, point in enumerate(layout.points):
        first = i * standing.rows
        alone, together = standing.held[first], standing.held[first + count]
        own = [full[first + j, j] for j in range(count)]
        rows.append(
            {
                "name": point.name,
                "label": spoken(point.name),
                "at": outlook.numbers(point.position_m),
                "receptor_alone": alone.receptor,
                "receptor_together": together.receptor,
                "aim_alone": alone.aim,
                "aim_together": together.aim,
                "alone": _light_numbers(own),
                "together": _light_numbers(full[first + count]),
                "constant_alone": _constant(standing, alone),
                "constant_together": _constant(standing, together),
            }
        )
    return rows


def _constant(standing: Standing, held: Held) -> float:
    meter = standing.setup.scene.meter
    return meter.c_flat if held.receptor == "flat" else meter.c_dome


def _light_numbers(values: Any) -> list[float]:
    return [float(f"{value:.{DIGITS}g}") for value in values]


def wish_rows(standing: Standing) -> list[dict[str, Any]]:
    """Every wanted reading with the light of each lamp that is fired for it."""
    wishes = standing.setup.scene.wanted.items()
    first = len(standing.layout.points) * standing.rows
    rows = []
    for i, (name, wish) in enumerate(wishes):
        held = standing.held[first + i]
        fired = np.zeros(len(standing.layout.fronts))
        fired[list(held.chosen(standing.layout))] = 1.0
        rows.append(
            {
                "name": name,
                "point": wish.point,
                "light": wish.light,
                "f_number": standing.wanted[i],
                "stops": wish.stops,
                "range_stops": list(wish.range_stops or (0.0, 0.0)),
                "receptor": held.receptor,
                "full": _light_numbers(standing.full[first + i] * fired),
                "constant": _constant(standing, held),
            }
        )
    return rows


def reference_point(standing: Standing) -> str:
    """The point that ratios refer to, at the present power of the key."""
    layout = standing.layout
    keyed = standing.full[
        layout.key : len(layout.points) * standing.rows : standing.rows, layout.key
    ]
    return layout.points[reference(layout, keyed)].name


def finding_rows(findings: tuple[Finding, ...]) -> list[dict[str, Any]]:
    """What the checks found that is not fine, the worst first."""
    return [
        {
            "severity": each.verdict,
            "what": each.words,
            "check": each.check,
            "about": each.about,
            "value": each.value if math.isfinite(each.value) else None,
            "unit": each.unit,
        }
        for each in findings
        if each.verdict != "fine"
    ]


def set_of(
    standing: Standing,
    frames: Mapping[str, FrameState],
    findings: tuple[Finding, ...] | None,
    bounces: bool,
) -> dict[str, Any]:
    """The set: room, camera, sitter, lights, readings, findings.

    frames   : by light; empty where there is no picture
    findings : None while they are being looked for
    bounces  : whether an engine is there that will trace the bounce
    """
    setup, layout = standing.setup, standing.layout
    waiting = "kept" if standing.bounce is not None else "waiting"
    return {
        "title": setup.scene.title,
        **_furniture(standing),
        "camera": outlook.camera(setup, layout),
        "panels": written.panel_rows(setup, layout),
        "elements": outlook.elements(layout),
        "places": written.place_rows(setup, layout),
        "lights": light_rows(standing, frames),
        "points": point_rows(standing),
        "wanted": wish_rows(standing),
        "key": layout.fronts[layout.key].name,
        "reference": {"point": reference_point(standing)},
        "meter": {
            "iso_speed": meter_speed(setup),
            "own": setup.scene.meter.iso_speed is not None,
        },
        "bounce": "traced" if standing.traced else (waiting if bounces else "none"),
        "findings": finding_rows(findings or ()),
        "findings_ready": findings is not None,
        "making": WORDS if standing.who.making else "",
        "units": "m",
    }


def _furniture(standing: Standing) -> dict[str, Any]:
    """Room, sitter and backdrop, each None where there is none."""
    setup, layout = standing.setup, standing.layout
    room, backdrop, sitter = outlook.room(layout), outlook.backdrop(layout), standing.sitter
    return {
        "room": room and room | written.room_keys(setup),
        "sitter": sitter and sitter | {"wishes": written.sitter_wishes(setup)},
        "backdrop": backdrop and backdrop | written.backdrop_keys(setup),
    }
