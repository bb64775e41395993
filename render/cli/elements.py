"""How `check` tells of an element on black: its black by material, its set by the portrait's."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from dataclasses import asdict, dataclass, replace
from typing import Any

from rich.console import Console

from render.cli.cures import cures_table, print_left_out, print_notes
from render.cli.paper import plain_table, signed
from render.plan.checks import Checks, check_set
from render.plan.checks.finding import by_verdict
from render.plan.elements import Black, Match, blackness, finding, match, no_black
from render.plan.elements.cameras import Compared
from render.plan.elements.match import Lamp
from render.scenefile import Setup, load_scene
from render.trace import Engine

LOOKED_FOR = "a backdrop black enough to add to a portrait"
SET_LOOKED_FOR = "light and camera against the portrait's"
SPOKEN = {
    "azimuth": "direction",
    "elevation": "height",
    "size": "apparent size",
    "stops": "over the set f-number",
    "colour": "colour",
    "distance_m": "distance",
    "height_m": "height",
    "focal_length_mm": "focal length",
    "f_number": "f-number",
    "iso_speed": "ISO",
    "shutter_s": "shutter",
    "white_balance_k": "white balance",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What `check` knows of an element on black; None where it does not apply."""

    black: Black | None
    portrait: Match | None


def checked(setup: Setup, portrait: str, engine: str | None) -> tuple[Checks, Told]:
    """All checks, and those of an element on black.

    portrait : scene of the portrait, or "" for none
    engine   : traces the small look and what the room gives back; None leaves both out, and with
               them the verdict on black in a room
    Raises OutputError where the portrait is none, SceneError, KitError, MeshError.
    """
    other = load_scene(portrait) if portrait else None
    compared = None if other is None else match(setup, other)
    found, reason = check_set(setup, engine), no_black(setup)
    if not reason and engine is None and setup.scene.room is not None:
        reason = "it takes the light of the room, which --quick does not trace"
    if not setup.scene.element:  # nothing to add: not worth a line in every check
        return found, Told(None, None)
    done, left = list(found.checked_for), list(found.not_checked_for)
    (left if compared is None else done).append(
        f"{SET_LOOKED_FOR} (no --portrait)" if compared is None else SET_LOOKED_FOR
    )
    black = None
    if reason:
        left.append(f"{LOOKED_FOR} ({reason})")
    else:
        with Engine(engine) if engine else nullcontext() as running:
            black = blackness(setup, other, running, _tell)
        done.append(LOOKED_FOR)
    findings = found.findings if black is None else by_verdict((finding(black), *found.findings))
    return (
        replace(found, findings=findings, checked_for=tuple(done), not_checked_for=tuple(left)),
        Told(black, compared),
    )


def _tell(name: str) -> None:
    if sys.stderr.isatty():
        Console(stderr=True).print(f"trying: {name}", highlight=False, markup=False)


def as_data(told: Told) -> dict[str, Any]:
    """For JSON."""
    return {
        "black": None if told.black is None else asdict(told.black),
        "portrait": None if told.portrait is None else asdict(told.portrait),
    }


def show_elements(console: Console, told: Told) -> None:
    """The tables below those of the findings."""
    if told.black is not None:
        _materials(console, told.black)
    if told.portrait is not None:
        _pairs(console, told.portrait)


def _materials(console: Console, black: Black) -> None:
    table = plain_table(
        f"Black by material: light on it lies {black.light_under_stops:.1f} stops under the key"
    )
    table.add_column("in its place", no_wrap=True)
    for heading in ("reflects", "needs", "code", "off by"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("adds cleanly")
    for each in black.materials:
        table.add_row(
            each.name,
            f"{each.reflectance:.2g}",
            f"-{each.needs_stops:.1f}",
            f"{each.code:.0f}",
            signed(each.off_stops),
            "yes" if each.off_stops <= 0 else "no",
        )
    console.print(table)
    if black.verdict.cures:
        console.print(cures_table(black.verdict, 1))
        print_left_out(console, black.verdict)
        print_notes(console, (black.verdict,))


def _pairs(console: Console, found: Match) -> None:
    table = plain_table(f"Against the set of: {found.portrait}")
    table.add_column("light for light", no_wrap=True)
    table.add_column("what", no_wrap=True)
    for heading in ("element", "portrait", "off by", "limit"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("verdict")
    for pair in found.lights:
        name = f"{pair.element.name} for {pair.portrait.name}"
        for k, row in enumerate(pair.rows):
            table.add_row("" if k else name, *_cells(row))
        table.add_section()
    for k, row in enumerate(found.camera):
        table.add_row("" if k else "camera", *_cells(row))
    console.print(table)
    for lights, where in (
        (found.element_alone, "the portrait has no such light"),
        (found.portrait_alone, "no light of the element's set stands for it"),
    ):
        for lamp in lights:
            console.print(f"{_lamp(lamp)}: {where}.", highlight=False)
    console.print(
        "Limits are common practice, no source. Stops of lights from behind are listed, not "
        "judged; azimuth is 0 from the camera, negative camera left. Sizes are those of the "
        "fronts, grids and lips left out.",
        highlight=False,
    )


def _lamp(lamp: Lamp) -> str:
    return f"{lamp.name} ({lamp.azimuth_deg:+.0f}°, {lamp.elevation_deg:+.0f}° up)"


def _cells(row: Compared) -> tuple[str, ...]:
    """What, both figures, the difference, its limit, the verdict."""
    limit = "" if row.limit is None else f"{round(row.limit, 2):g}"
    return (
        SPOKEN[row.what],
        _figure(row.what, row.element),
        _figure(row.what, row.portrait),
        _off(row),
        limit if row.unit != "share" else f"{100 * (row.limit or 0):.0f} %",
        row.verdict,
    )


def _figure(what: str, value: float) -> str:
    if what in ("azimuth", "elevation", "size"):
        return f"{value:.0f}°" if what == "size" else f"{value:+.0f}°"
    if what == "stops":
        return signed(value)
    if what == "shutter_s":
        return f"1/{1 / value:.0f}" if value < 1 else f"{value:g}"
    if what in ("colour", "white_balance_k"):
        return f"{value:.0f} K"
    units = {"distance_m": " m", "height_m": " m", "focal_length_mm": " mm"}
    mark = "f/" if what == "f_number" else ""
    return f"{mark}{value:.3g}{units.get(what, '')}"


def _off(row: Compared) -> str:
    if row.unit == "share":
        return f"{100 * row.off:+.0f} %"
    if row.unit == "times":
        return f"{row.off:.2f} x"
    if row.what == "azimuth":
        return f"{row.off:.0f}°"
    digits = {"stops": 1, "m": 2}.get(row.unit, 0)
    unit = {"deg": "°", "K": " K", "m": " m"}.get(row.unit, "")
    return f"{signed(row.off, digits)}{unit}"
