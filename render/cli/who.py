"""`tenthstop who`: who lights a place, how light the backdrop comes out, and the cheapest cure."""

from __future__ import annotations

import json
import sys
from contextlib import nullcontext
from dataclasses import asdict
from typing import Any, get_args

from rich.console import Console
from rich.table import Table

from render.cli.bounce import said
from render.cli.cures import cures_table, print_left_out, print_notes, verdict_line
from render.cli.paper import plain_table, printer, signed, spoken, write_csv
from render.errors import OutputError
from render.plan.changes.settings import so_many
from render.plan.who.cheapest import Verdict, cheapest
from render.plan.who.contributors import REST, STRAIGHT, Lit, Part, Who, who
from render.plan.who.goals import OPTION
from render.plan.who.tones import BLACK_UP_TO, CLEAN_UP_TO, DARK_UP_TO, WHITE_FROM, Tone, Word
from render.plan.who.trials import Cure
from render.scenefile import load_scene
from render.scenefile.write import check_writable, write_keys
from render.trace import Engine

LEAST_OFF_STOPS = 0.05  # shows as +0.0 below
LEAST_HIDDEN = 0.005  # shows as 0 % below
MOST_WANTED_STOPS = 12.0  # as of a wish in a scene file
LIMITS = (
    f"Codes are sRGB without tone curve or flare in the lens. Black: {BLACK_UP_TO:.0f} or less, "
    f"as it looks on a screen ({CLEAN_UP_TO:.0f} or less adds cleanly to another picture); dark: "
    f"up to {DARK_UP_TO:.0f}; mid: up to {WHITE_FROM - 1:.0f}; white: {WHITE_FROM:.0f} or more."
)


def run_who(
    scene: str,
    points: list[str],
    want: str,
    engine: str | None,
    form: tuple[bool, bool],
    write: int,
) -> None:
    """Print who lights the points; where one is not as wanted, what cures it.

    want   : a word, stops from the face, or "" for the wishes
    engine : None leaves out what the room gives back
    form   : as JSON, as CSV
    write  : number of the cure that goes into the scene file; 0 for none
    """
    setup = load_scene(scene)
    if write:
        check_writable(setup)
    wanted, notes = _wanted(want), Console(stderr=True)

    def tell(name: str) -> None:
        if sys.stderr.isatty():
            notes.print(f"trying: {name}", highlight=False, markup=False)

    with Engine(engine) if engine else nullcontext() as running:
        found, taken = who(setup, points, engine=running)
        verdicts = cheapest(taken, wanted, engine=running, tell=tell)
    as_json, as_csv = form
    if as_json:
        shown: dict[str, Any] = asdict(found) | {"wanted": [asdict(each) for each in verdicts]}
        print(json.dumps(shown, indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv([part for point in found.points for part in point.parts], Part)
    else:
        _show(found, verdicts, engine is not None)
    if write:
        cure = _chosen(verdicts, write)
        file = write_keys(setup, {each.key: each.value for each in cure.settings})
        words = f"Cure {write} written to {file}: {cure.name}."
        print(words, file=sys.stderr if as_json or as_csv else sys.stdout)


def _wanted(want: str) -> Word | float | None:
    """A word or a number of stops; raises OutputError for anything else."""
    if not want:
        return None
    for word in get_args(Word):
        if want == word:
            return word  # type: ignore[no-any-return]
    try:
        stops = float(want)
    except ValueError:
        stops = float("nan")
    if not abs(stops) <= MOST_WANTED_STOPS:
        words = ", ".join(get_args(Word))
        raise OutputError(
            f'{OPTION}: found "{want}" (accepted: {words} of a backdrop, or stops from the face, '
            f"such as -2, of any point; at most {MOST_WANTED_STOPS:g})"
        )
    return stops


def _chosen(verdicts: tuple[Verdict, ...], number: int) -> Cure:
    cures = [cure for verdict in verdicts for cure in verdict.cures]
    if not cures:
        raise OutputError(
            "--write: no cure to write, the file stays as it was (accepted: where something "
            "wanted of a point that is asked about is missed, and a cure is listed)"
        )
    if number > len(cures):
        raise OutputError(
            f"--cure: found {number}, the file stays as it was (accepted: 1 to {len(cures)}, the "
            "numbers of the table)"
        )
    return cures[number - 1]


def _show(found: Who, verdicts: tuple[Verdict, ...], bounce: bool) -> None:
    console = printer()
    toned = any(point.tone for point in found.points)
    console.print(_places(found, toned))
    without = "" if bounce else " All without the room's bounce."
    console.print(_notes(found, toned) + without, highlight=False)
    told = {verdict.points[0] for verdict in verdicts if not verdict.met}
    first = next((point.point for point in found.points if point.tone), None)
    for point in found.points:
        if point.parts and point.point in {first, *told}:
            console.print(_sentence(point), highlight=False)
    for verdict in verdicts:
        console.print(verdict_line(verdict), highlight=False)
    console.print()
    console.print(_parts(found))
    number = 1
    for verdict in verdicts:
        if verdict.cures:
            console.print(cures_table(verdict, number))
            number += len(verdict.cures)
        print_left_out(console, verdict)
    print_notes(console, verdicts)


def _places(found: Who, toned: bool) -> Table:
    """One line a place: its reading and, on a backdrop, how it comes out."""
    table = plain_table(f"{found.scene}: all lights together, at ISO {found.iso_speed:g}")
    table.add_column("held at")
    for heading in ("reads", "stops", "±"):
        table.add_column(heading, justify="right", no_wrap=True)
    if toned:
        table.add_column("code", justify="right")
        table.add_column("red green blue")
        table.add_column("comes out")
    for point in found.points:
        cells = [
            spoken(point.point),
            point.shown if point.f_number >= 1 else "under f/1",
            signed(point.stops_re_face),
            f"{point.standard_error_stops:.2f}",
        ]
        table.add_row(*cells, *(_tone(point.tone) if toned else ()))
    return table


def _tone(tone: Tone | None) -> tuple[str, str, str]:
    if tone is None:
        return "–", "–", "–"
    channels = " ".join(f"{code:.0f}" for code in tone.codes)
    return f"{tone.code:.0f}", channels, tone.word + (", clean" if tone.clean else "")


def _notes(found: Who, toned: bool) -> str:
    lights = "all lights" if found.face_lights == "all" else f"{found.face_lights} alone"
    told = f"Stops are from the face: {spoken(found.face_point)}, {lights}, {found.face_shown}."
    off = found.camera_off_stops
    if off is None:
        told += " Without a camera, the picture is exposed as the face reads." if toned else ""
    elif abs(off) < LEAST_OFF_STOPS:
        told += f" The camera is set for it, f/{found.camera_f_number:.2g}."
    else:
        told += (
            f" The camera is set to f/{found.camera_f_number:.2g} at ISO "
            f"{found.camera_iso_speed:g}: the face gets {so_many(off)} "
            f"{'more' if off > 0 else 'less'} than that."
        )
    return f"{told} {LIMITS}" if toned else told


def _sentence(point: Lit) -> str:
    """A place in one line: whose light it is most of all."""
    lights: dict[str, list[float]] = {}
    surfaces: dict[str, float] = {}
    for part in (part for part in point.parts if part.way != REST):
        sums = lights.setdefault(part.light, [0.0, 0.0])
        sums[0] += part.share
        if part.way == STRAIGHT:
            sums[1] += part.share
        else:
            surfaces[part.way] = surfaces.get(part.way, 0.0) + part.share
    most = sorted(lights.items(), key=lambda each: -each[1][0])
    words = [
        f"{light} {100 * whole:.0f} %" + (f" ({100 * straight:.0f} % straight)" if straight else "")
        for light, (whole, straight) in most
    ]
    told = f"{spoken(point.point).capitalize()} "
    if point.tone is not None:
        told += f"comes out {point.tone.word}, code {point.tone.code:.0f}. It "
    told += f"is lit by {', '.join(words)}"
    if not surfaces:
        return f"{told}."
    last = max(surfaces, key=lambda name: surfaces[name])
    return (
        f"{told}; of what the room gives back, most by {said(last)}: {100 * surfaces[last]:.0f} %."
    )


def _parts(found: Who) -> Table:
    table = plain_table("Whose light it is, by the surface that it comes from last")
    for heading in ("held at", "light", "by way of"):
        table.add_column(heading, no_wrap=True)
    for heading in ("share", "stops", "hidden"):
        table.add_column(heading, justify="right", no_wrap=True)
    for point in found.points:
        for k, part in enumerate(point.parts):
            hidden = part.hidden_share is not None and part.hidden_share > LEAST_HIDDEN
            table.add_row(
                "" if k else spoken(point.point),
                "" if part.way == REST else part.light,
                "all the rest" if part.way == REST else said(part.way),
                f"{100 * part.share:.0f} %",
                signed(part.stops_re_face),
                f"{100 * (part.hidden_share or 0):.0f} %" if hidden else "",
            )
        table.add_section()
    return table
