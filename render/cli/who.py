"""`tenthstop who`: who lights a place, how light the backdrop comes out, and the cheapest cure."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from typing import Any, cast

from rich.console import Console
from rich.table import Table

from render.cli.bounce import said
from render.cli.paper import plain_table, printer, signed, spoken, write_csv
from render.plan.who.cheapest import Cures, cheapest
from render.plan.who.contributors import REST, STRAIGHT, Lit, Part, Who, who
from render.plan.who.tones import BLACK_UP_TO, CLEAN_UP_TO, DARK_UP_TO, WHITE_FROM, Tone, Word
from render.plan.who.trials import Cure, so_many
from render.scenefile import load_scene
from render.trace import Engine

LEAST_OFF_STOPS = 0.05  # shows as +0.0 below
LEAST_HIDDEN = 0.005  # shows as 0 % below
LIMITS = (
    f"Codes are sRGB without tone curve or flare in the lens. Black: {BLACK_UP_TO:.0f} or less, "
    f"as it looks on a screen ({CLEAN_UP_TO:.0f} or less adds cleanly to another picture); dark: "
    f"up to {DARK_UP_TO:.0f}; mid: up to {WHITE_FROM - 1:.0f}; white: {WHITE_FROM:.0f} or more."
)


def run_who(
    scene: str, points: list[str], want: str | None, engine: str, as_json: bool, as_csv: bool
) -> None:
    """Print who lights the points; where a backdrop is lighter than wanted, what cures it."""
    setup = load_scene(scene)
    notes = Console(stderr=True)

    def tell(name: str) -> None:
        if sys.stderr.isatty():
            notes.print(f"trying: {name}", highlight=False, markup=False)

    with Engine(engine) as running:
        found, taken = who(setup, points, engine=running)
        cures = cheapest(taken, cast(Word | None, want), engine=running, tell=tell)
    if as_json:
        shown: dict[str, Any] = asdict(found) | {"backdrop": asdict(cures) if cures else None}
        print(json.dumps(shown, indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv([part for point in found.points for part in point.parts], Part)
    else:
        _show(found, cures)


def _show(found: Who, cures: Cures | None) -> None:
    console = printer()
    toned = any(point.tone for point in found.points)
    console.print(_places(found, toned))
    console.print(_notes(found, toned), highlight=False)
    backdrop = next((point for point in found.points if point.tone and point.parts), None)
    if backdrop is not None:
        console.print(_sentence(backdrop), highlight=False)
    if cures is not None:
        console.print(_verdict(cures), highlight=False)
    console.print()
    console.print(_parts(found))
    if cures is not None and cures.cures:
        console.print(_cures(cures))
    if cures is not None:
        _print_notes(console, cures)


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
    """The backdrop in one line: whose light it is most of all."""
    assert point.tone is not None
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
    told = (
        f"{spoken(point.point).capitalize()} comes out {point.tone.word}, code "
        f"{point.tone.code:.0f}. It is lit by {', '.join(words)}"
    )
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


def _verdict(cures: Cures) -> str:
    code = f"{cures.code:.0f}"
    if cures.wanted_code >= WHITE_FROM:
        short = "" if cures.met else f", {so_many(cures.over_stops)} too dark"
        return (
            f"{cures.wanted}: code {WHITE_FROM:.0f} or more; the darkest place has {code}{short}."
        )
    limit = f"{cures.wanted}: a backdrop of code {int(cures.wanted_code)} or less"
    if cures.met and cures.over_stops > 0:
        return f"{limit}; it has {code}, near enough."
    if cures.met:
        return f"{limit}; it has {code}."
    over = f"{limit}; it has {code}, {so_many(cures.over_stops)} too light."
    best = cures.cures[0] if cures.cures else None
    if best is None:
        return f"{over} Nothing that was tried can be done here."
    if not best.meets:
        return (
            f"{over} Nothing that was tried is enough; nearest: {best.name}, code {best.code:.0f}."
        )
    return f"{over} Cheapest: {best.name}, code {best.code:.0f}."


def _cures(cures: Cures) -> Table:
    table = plain_table("What helps, least work first; each one placed and measured again")
    table.add_column("change")
    table.add_column("enough", no_wrap=True)
    for heading in ("stops", "code"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("comes out", no_wrap=True)
    table.add_column(f"power of {cures.key}", no_wrap=True)
    table.add_column("face", justify="right", no_wrap=True)
    for cure in cures.cures:
        table.add_row(
            cure.name,
            "yes" if cure.meets else "no",
            signed(cure.stops),
            f"{cure.code:.0f}",
            cure.word + (", clean" if _clean(cure) else ""),
            cure.key_power_shown,
            signed(cure.face_stops, 2),
        )
    return table


def _clean(cure: Cure) -> bool:
    return all(place.clean for place in cure.points)


def _print_notes(console: Console, cures: Cures) -> None:
    if cures.cures:
        console.print(
            "Stops and code: of the lightest place of the backdrop. The power keeps the face "
            "reading, in the head's steps; face: what is left over. Of all that a change can "
            "bring about, a new flag or a nearer light in the picture is all that was looked for.",
            highlight=False,
        )
    if cures.left_out:
        console.print(f"Left out: {'; '.join(cures.left_out)}.", highlight=False)
