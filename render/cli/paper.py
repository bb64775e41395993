"""How tables look on paper and in a file: plain rules, signed stops, spoken names, CSV."""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from rich import box
from rich.console import Console
from rich.table import Table

PAPER_COLUMNS = 110  # width of a table that goes to a file or a pipe


def write_csv(rows: Sequence[Any], kind: type) -> None:
    """Rows of a dataclass as CSV on standard output."""
    names = [field.name for field in fields(kind)]
    writer = csv.DictWriter(sys.stdout, names, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(getattr(row, name)) for name in names})


def _cell(value: Any) -> Any:
    """A value of a CSV file; surfaces as "panel.chin 1.25; ceiling 0.5" [lx·s], sizes "60 90"."""
    if not isinstance(value, tuple):
        return value
    if value and isinstance(value[0], float):
        return " ".join(f"{number:.6g}" for number in value)
    return "; ".join(f"{each.surface} {each.luminous_exposure_lx_s:.6g}" for each in value)


def signed(value: float | None, digits: int = 1) -> str:
    """A stop value with its sign; a dash where there is none."""
    if value is None:
        return "–"
    return f"{round(value, digits) + 0.0:+.{digits}f}"  # + 0.0 turns -0.0 into +0.0


def plain_table(title: str) -> Table:
    """A table as in a printed book: rules above and below, no boxes."""
    return Table(
        title=title, title_justify="left", box=box.SIMPLE, pad_edge=False, padding=(0, 1, 0, 0)
    )


def printer() -> Console:
    """A console as wide as the terminal, or as a page where there is none; prints as it is told.

    Brackets and colons in titles and names are no markup.
    """
    width = None if sys.stdout.isatty() else PAPER_COLUMNS
    return Console(width=width, markup=False, emoji=False)


def spoken(name: str) -> str:
    """A point's name as it is said."""
    return name.replace("_", " ")


def share(part: float, whole: float) -> str:
    """A part of a whole in per cent."""
    return f"{100 * part / whole:.0f} %" if whole > 0 else "–"
