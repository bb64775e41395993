"""Published and independently computed values, one row each, with source and how sure it is."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).parent / "data" / "checks_values.csv"
NUMBER = re.compile(r"[-+]?\d*\.?\d+(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True)
class Check:
    """One row. `sure`: opened = read in the source, memory = recalled, computed = derived."""

    id: str
    quantity: str
    inputs: str
    expected: str
    tolerance: str
    source: str
    sure: str

    def __str__(self) -> str:
        return f"{self.id} [{self.sure}: {self.source}]"

    @property
    def _printed(self) -> list[str]:
        return NUMBER.findall(self.expected.replace("..", " to "))

    @property
    def values(self) -> list[float]:
        """The numbers of the expected value, in order."""
        return [float(n) for n in self._printed]

    def agrees(self, found: float, place: int = 0) -> bool:
        """Whether a number is as near the row's as the row asks for.

        The tolerance is relative above 1 and absolute below; half a unit of the last printed
        digit is always allowed, since the row shows no more than that.
        """
        printed = self._printed[place]
        value = float(printed)
        figure, _, unit = self.tolerance.partition(" ")
        allowed = float(figure)
        if unit == "%":
            allowed *= 0.01 * abs(value)
        elif not unit:
            allowed *= max(1.0, abs(value))
        decimals = len(printed.partition(".")[2])
        return abs(found - value) <= allowed + 0.5 * 10.0**-decimals


def read_checks() -> dict[str, Check]:
    """Every row of the file by its id."""
    with FILE.open(newline="", encoding="utf-8") as file:
        rows = [Check(*row) for row in csv.reader(file) if row]
    return {row.id: row for row in rows[1:]}


CHECKS = read_checks()

# Rows that other parts will have to meet, by the start of their id. None of them concerns the
# light that comes straight from a front, or the formulas of exposure.
LEFT_OUT = {
    "EX-28": "sensor headroom above white belongs to the camera model",
    "EX-29": "sensor headroom above white belongs to the camera model",
    "IR-CP0.5": "room bounce at a point has to be traced",
    "IR-F": "closed furnace has to be traced",
    "RM-5": "room bounce at a point has to be traced",
    "SX-0.5": "room bounce at a point has to be traced",
    "SX-R": "room bounce at a point has to be traced",
    "CC-white": "greys of charts",
    "CC-neutral": "greys of charts",
    "CC-black": "greys of charts",
    "CO-white": "greys of charts",
    "CO-neutral": "greys of charts",
    "CX-white": "greys of charts",
    "CX-neutral": "greys of charts",
    "HR-2": "shifts of the light that passes through a hair belong to the fibre model",
}


def left_out(check_id: str) -> bool:
    """Whether a row is left to another part."""
    return check_id.startswith(tuple(LEFT_OUT))
