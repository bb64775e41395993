"""`tenthstop lights`: what there is to light with."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from pathlib import Path

from rich.table import Table

from render.cli.paper import plain_table, printer, signed, write_csv
from render.photometry.stops import show_f_number
from render.report.kit_rows import (
    FlashRow,
    GelRow,
    GridRow,
    Lights,
    ModifierRow,
    ReadingRow,
    SurfaceRow,
)
from render.report.lights import CLOTHED, KEY_AT_M, lights

LISTS = {
    "flashes": FlashRow,
    "modifiers": ModifierRow,
    "grids": GridRow,
    "readings": ReadingRow,
    "gels": GelRow,
    "surfaces": SurfaceRow,
}


def run_lights(own: Sequence[Path], head: str, only: str, as_json: bool, as_csv: bool) -> None:
    """Print the lists of the kit, or one of them; CSV is one list, the modifiers by default."""
    chosen = only or ("modifiers" if as_csv else "")
    found = lights(own, head, chosen)
    if as_json:
        left_out = {name for name in LISTS if only not in ("", name)}
        kept = {key: value for key, value in asdict(found).items() if key not in left_out}
        print(json.dumps(kept, indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(getattr(found, chosen), LISTS[chosen])
    else:
        _show(found)


def _show(found: Lights) -> None:
    console = printer()
    shown = {
        "flashes": _flashes,
        "modifiers": _modifiers,
        "grids": _grids,
        "readings": _readings,
        "gels": _gels,
        "surfaces": _surfaces,
    }
    for name, make in shown.items():
        if getattr(found, name):
            table, words = make(found)
            console.print(table)
            console.print(words, highlight=False)
            console.print()


Made = tuple[Table, str]


def _table(title: str, left: Iterable[str], right: Iterable[str]) -> Table:
    """A table whose first columns are words and whose others are figures."""
    table = plain_table(title)
    for i, heading in enumerate(left):
        table.add_column(heading, no_wrap=i == 0)
    for heading in right:
        table.add_column(heading, justify="right", no_wrap=True)
    return table


def _flashes(found: Lights) -> Made:
    headings = ("W·s", "lm/(W·s)", "from", "click", "K", "K a stop")
    table = _table("Flash heads", ("flash", "what it is"), headings)
    for row in found.flashes:
        table.add_row(
            row.name,
            row.about,
            f"{row.stored_energy_ws:g}",
            f"{row.efficacy_lm_per_ws:g}",
            f"1/{2**row.power_range_stops:.4g}",
            f"{row.power_step_stops:g}" if row.power_step_stops else "stepless",
            f"{row.colour_temperature_k:g}",
            f"{row.colour_drift_k_per_stop:+g}" if row.colour_drift_k_per_stop else "0",
        )
    return table, (
        "From: least power. Click: stops. K a stop: change of colour temperature for each stop "
        "below full power. Typical values; light per stored energy spans 15 to 50 between makes."
    )


def _modifiers(found: Lights) -> Made:
    headings = ("size cm", "stops", "guide", "beam", "share", "cloths")
    table = _table("Modifiers", ("modifier", "what it is"), headings)
    for row in found.modifiers:
        table.add_row(
            row.name,
            row.about,
            " x ".join(f"{side:g}" for side in row.size_cm),
            signed(-row.loss_stops),
            f"{row.guide_number_m:.0f}" + ("*" if _is_metered(row) else ""),
            "360°" if row.beam_deg is None else f"{row.beam_deg:.0f}°",
            f"{100 * row.share:.0f} %",
            str(row.diffusers) if row.diffusers else "",
        )
    metered = (
        "* metered; all others typical, good"
        if any(map(_is_metered, found.modifiers))
        else ("All are typical, good")
    )
    return table, (
        f"Stops: against {found.reference}, both {found.distance_m:g} m from the middle of the "
        f"front, straight ahead. Guide: number, metres at ISO 100, {found.head} at full power. "
        "Beam: full width at half intensity; 120° is matte. Share: of the flash's light, that "
        f"leaves the modifier. {metered} to half a stop."
    )


def _is_metered(row: ModifierRow) -> bool:
    return row.calibration.startswith("metered")


def _grids(found: Lights) -> Made:
    headings = ("cells cm", "deep cm", "open", "closes", "beam", "spot", "stops")
    table = _table("Grids", ("grid", "what it is"), headings)
    for row in found.grids:
        table.add_row(
            row.name,
            row.about,
            f"{row.cell_cm:g}",
            f"{row.depth_cm:g}",
            f"{100 * row.open_share:.0f} %",
            f"{row.closes_deg:.1f}°",
            "" if row.beam_deg is None else f"{row.beam_deg:.0f}°",
            "" if row.spot_m is None else f"{row.spot_m:.2f} m",
            signed(-row.loss_stops),
        )
    return table, (
        "Closes: no light farther off the axis; the angle printed on it. Beam: full width at half "
        f"intensity. Spot: its diameter at {found.distance_m:g} m. Stops: on the axis, square "
        f"cells {KEY_AT_M:g} m from a {CLOTHED}, honeycombs {found.distance_m:g} m from a "
        f"{found.reference}."
    )


def _readings(found: Lights) -> Made:
    headings = ("power", "at", "ISO", "read", "typical", "stops", "walls")
    table = _table("Your readings", ("flash", "modifier", "with"), headings)
    for row in found.readings:
        table.add_row(
            row.flash,
            row.modifier,
            row.worn,
            f"1/{1 / row.power:.4g}" if row.power < 1 else "full",
            f"{row.distance_m:g} m",
            f"{row.iso_speed:g}",
            show_f_number(row.f_number),
            show_f_number(row.typical_f_number),
            signed(row.difference_stops),
            f"up to {row.walls_stops:.1f}" if row.walls_stops else "off",
        )
    return table, (
        "Typical: what the kit's values would have shown. Stops: your light against that. Walls: "
        "stops that pale walls near by may have added; off where shaded_f_number takes them off."
    )


def _gels(found: Lights) -> Made:
    table = _table("Gels on a flash of 5500 K", ("gel",), ("stops", "mired", "makes", "r, g, b"))
    for row in found.gels:
        kelvin = row.colour_temperature_k
        table.add_row(
            row.name,
            signed(-row.loss_stops),
            "" if row.mired is None else f"{row.mired:+g}",
            "" if kelvin is None else f"{kelvin:.0f} K",
            " ".join(f"{channel:5.2f}" for channel in row.colour),
        )
    return table, "r, g, b: linear, of a light of luminance 1."


def _surfaces(found: Lights) -> Made:
    table = _table("Papers, cloths, paints, floors", ("surface", "kind", "from"), ("%", "usual"))
    for row in found.surfaces:
        span = row.reflectance_range
        table.add_row(
            row.name,
            row.kind,
            row.source,
            f"{100 * row.reflectance:g}",
            "" if span is None else f"{100 * span[0]:g}–{100 * span[1]:g}",
        )
    return table, "Luminous reflectance; a swatch metered beside a grey card tells yours."
