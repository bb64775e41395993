"""`tenthstop balance SCENE`: powers and other settings for the wanted readings, and cures."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from render.cli.freed import freedom, settings_table
from render.cli.paper import plain_table, printer, signed, spoken, write_csv
from render.plan.balance.balance import Balance, balance
from render.plan.balance.outcome import PowerRow, WishOutcome
from render.report.held import ALL
from render.scenefile import load_scene
from render.scenefile.write import check_writable, write_keys


def run_balance(
    scene: str,
    free: Sequence[str],
    bounce: bool,
    engine: str,
    as_json: bool,
    as_csv: bool,
    write: bool,
) -> bool:
    """Work it out, print it, and put it into the scene file where that is wanted."""
    setup = load_scene(scene)
    if write:
        check_writable(setup)
    with Console(stderr=True).status("Placing and measuring") as shown:
        found = balance(
            setup,
            free=free,
            bounce=bounce,
            engine=engine,
            cures=not as_csv,
            progress=lambda text: shown.update(f"Now: {escape(text)}"),
        )
    if as_json:
        print(json.dumps(asdict(found), indent=1, ensure_ascii=False))
    elif as_csv:
        write_csv(found.powers, PowerRow)
    else:
        show_balance(found, bounce)
    if write:
        file = write_keys(setup, _written(found))
        words = f"{'Powers and settings' if found.changes else 'Powers'} written to {file}."
        print(words, file=sys.stderr if as_json or as_csv else sys.stdout)
    return found.met


def show_balance(found: Balance, bounce: bool) -> None:
    """Powers, wishes, what the clicks cost, what is out of reach and its cures."""
    console = printer()
    what = "powers and settings" if found.settings else "powers"
    _say(console, f"{found.scene}: {what} for the wanted readings, ISO {found.iso_speed:g}")
    if found.settings:
        console.print(settings_table(found))
    console.print(_powers(found))
    console.print(_wishes(found))
    _say(console, _summary(found, bounce))
    if found.settings:
        console.print()
        _say(console, freedom(found, bounce))
    if found.limits:
        console.print()
        reach = "within these ranges" if found.settings else "of the dials"
        _say(console, f"Out of reach {reach}. " + " ".join(x.sentence for x in found.limits))
        console.print()
        if found.cures:
            console.print(_cures(found))
            _say(
                console,
                "Each was set up, measured and balanced again; a wish that is met shows ok, "
                "another what it misses in stops.",
            )
        else:
            _say(console, "Nothing that was tried brings it nearer.")


def _written(found: Balance) -> dict[str, Any]:
    """Keys of the scene file and their values."""
    values: dict[str, Any] = {
        f"light.{row.light}.power": row.shown for row in found.powers if not row.stays
    }
    for each in found.changes:
        whole = float(each.value).is_integer() and not each.key.endswith("_m")
        values[each.key] = int(each.value) if whole else each.value
    return values


def _say(console: Console, words: str) -> None:
    console.print(words, highlight=False)


def _powers(found: Balance) -> Table:
    table = plain_table("")
    for heading in ("light", "now", "set to"):
        table.add_column(heading, no_wrap=True)
    for heading in ("turn by (stops)", "stops under full, unrounded"):
        table.add_column(heading, justify="right")
    table.add_column("")
    for row in found.powers:
        stays = bool(row.stays)
        table.add_row(
            row.light,
            row.now_shown,
            "–" if row.stays == "is off" else row.shown,
            "–" if stays else signed(row.change_stops, 2 if _fine(row) else 1),
            "–" if stays else f"{abs(row.solved_stops):.2f}",
            row.stays or row.at_end,
        )
    return table


def _fine(row: PowerRow) -> bool:
    """Whether a dial's clicks are no tenths."""
    return abs(row.step_stops * 10 - round(row.step_stops * 10)) > 1e-6 or row.step_stops == 0


def _wishes(found: Balance) -> Table:
    table = plain_table("Wanted")
    table.add_column("wish", no_wrap=True)
    for heading in ("held at", "fired"):
        table.add_column(heading)
    for heading in ("wanted", "now", "solved", "on the dials"):
        table.add_column(heading, no_wrap=True)
    table.add_column("off by (stops)", justify="right")
    for row in found.wishes:
        table.add_row(
            row.name,
            spoken(row.point),
            "together" if row.lights == ALL else f"{row.lights} alone",
            row.wanted + _range(row),
            row.now,
            row.solved,
            row.shown,
            signed(row.off_stops, 2) + ("" if row.met else " *"),
        )
    return table


def _range(row: WishOutcome) -> str:
    if not row.least_off_stops and not row.most_off_stops:
        return ""
    return f" ({row.least_off_stops:+.1f} to {row.most_off_stops:+.1f})"


def _summary(found: Balance, bounce: bool) -> str:
    missed = [row.name for row in found.wishes if not row.met]
    said = f"* not met: {', '.join(missed)}." if missed else "Every wish is met."
    if found.rounding_wish is not None:
        cost = found.rounding_cost_stops
        amount = f"{cost:.2f} stop" if cost >= 0.005 else "less than 0.01 stop"
        cause = "Whole centimetres, degrees and steps" if found.settings else "The dials' steps"
        said += f" {cause} cost at most {amount} ({found.rounding_wish})."
    said += f" Solved: before {_steps(found)}."
    if bounce:
        error = max(row.standard_error_stops for row in found.wishes)
        said += f" Bounce is in it, traced to {max(error, 0.001):.3f} stop (standard error)."
    else:
        said += " Without the room's bounce."
    words = sorted({row.calibration for row in found.powers if row.stays != "is off"})
    return said + f" Output of the lights: {'; '.join(words)}."


def _steps(found: Balance) -> str:
    return "rounding" if found.settings else "the dials' steps"


def _cures(found: Balance) -> Table:
    table = plain_table("Cures, the best first, then the least trouble")
    table.add_column("cure")
    for wish in found.wishes:
        table.add_column(wish.name, justify="right", no_wrap=True)
    table.add_column("powers then")
    for cure in found.cures:
        table.add_row(
            cure.text,
            *("ok" if each.met else signed(each.missed_stops) for each in cure.wishes),
            ", ".join(f"{power.light} {power.shown}" for power in cure.powers),
        )
    return table
