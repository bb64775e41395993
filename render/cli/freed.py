"""What `tenthstop balance --free` set besides the powers, and how free the answer was."""

from __future__ import annotations

from rich.table import Table

from render.cli.paper import plain_table, signed
from render.plan.balance.balance import Balance
from render.plan.balance.outcome import SettingRow
from render.plan.balance.thirds import thirds_from

ENDS = {"low": "at its lower end", "high": "at its upper end"}
UNITS = {"distance_m": " m", "azimuth_deg": "°", "elevation_deg": "°"}


def settings_table(found: Balance) -> Table:
    """Every setting that was free, now and as it is to be set."""
    table = plain_table("")
    for heading in ("free", "now", "set to"):
        table.add_column(heading, no_wrap=True)
    for heading in ("change", "unrounded"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("looked in")
    table.add_column("")
    for row in found.settings:
        stays = row.value == row.now
        table.add_row(
            row.key,
            _shown(row, row.now),
            _shown(row, row.value),
            "stays" if stays else _change(row),
            "–" if row.part_of_camera else _unrounded(row),
            f"{row.low:g} to {row.high:g} ({row.range_from})",
            "" if stays and found.met else ENDS.get(row.at_end, ""),
        )
    return table


def freedom(found: Balance, bounce: bool) -> str:
    """How many unknowns and wishes there were, and what was made of that."""
    wishes = len(found.wishes)
    said = f"{found.unknowns} unknowns (dials and settings) for {wishes} wishes"
    if found.met and found.unknowns > wishes:
        said += (
            ": other answers meet them too. The nearest to the present set-up was taken: dials "
            "before ISO, ISO before f-number, that before moving a light."
        )
    elif not found.met:
        said += ". No answer in the ranges meets all; the least weighted misses were taken."
    else:
        said += "."
    if bounce and found.rounds and any(_moved(row) for row in found.settings):
        rounds = "once" if found.rounds == 1 else f"{found.rounds} times"
        said += (
            f" Bounce was traced again {rounds} where the lights ended; the last time it moved a "
            f"reading by at most {found.residual_stops:.2f} stop."
        )
    if found.refused and not found.met:
        said += f" In the way: a little farther {'; '.join(found.refused)}."
    return said


def _moved(row: SettingRow) -> bool:
    return not row.part_of_camera and row.value != row.now


def _shown(row: SettingRow, value: float) -> str:
    if row.part == "f_number":
        return f"f/{value:g}"
    if row.part == "iso_speed":
        return f"ISO {value:g}"
    return f"{value:.2f} m" if row.part == "distance_m" else f"{value:g}°"


def _unrounded(row: SettingRow) -> str:
    digits = 3 if row.part == "distance_m" else 1
    return f"{row.solved:.{digits}f}{UNITS[row.part]}"


def _change(row: SettingRow) -> str:
    """In centimetres and degrees, or in stops."""
    if row.part == "iso_speed":
        return f"{signed(thirds_from(row.now, row.value, 1) / 3)} stops"
    if row.part == "f_number":
        return f"{signed(thirds_from(row.now, row.value, 2) / 3)} stops"
    if row.part == "distance_m":
        return f"{100 * (row.value - row.now):+.0f} cm"
    return f"{row.value - row.now:+.0f}°"
