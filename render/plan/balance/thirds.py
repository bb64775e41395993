"""ISO speeds and f-numbers as cameras have them, in third stops."""

from __future__ import annotations

import math
from collections.abc import Sequence

from render.plan.changes.camera import NARROWEST_F_NUMBER, SPEEDS, WIDEST_F_NUMBER

ISO_SPEEDS = tuple(float(each) for each in SPEEDS)
# As engraved, from the whole-stop marks of ISO 517 and the thirds between; from memory.
MARKS = (
    *(1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0),
    *(5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0),
)
F_NUMBERS = tuple(mark for mark in MARKS if WIDEST_F_NUMBER <= mark <= NARROWEST_F_NUMBER)
ON_THE_MARK_STOPS = 0.1  # engraved marks are rounded by up to this


def thirds_between(series: Sequence[float], low: float, high: float) -> tuple[float, ...]:
    """The values of a series from low to high."""
    return tuple(value for value in series if low <= value <= high)


def thirds_from(now: float, there: float, per_stop: int) -> int:
    """Whole third stops from one value to another.

    per_stop : 1 for ISO speeds, which double in a stop; 2 for f-numbers, which double in two
    """
    return round(3 * per_stop * math.log2(there / now))


def moved_mark(f_number: float, thirds: int) -> float:
    """An f-number so many third stops on: a mark where it stands on one, else exactly so far."""
    nearest = min(range(len(MARKS)), key=lambda k: abs(math.log2(MARKS[k] / f_number)))
    on_it = abs(2 * math.log2(MARKS[nearest] / f_number)) < ON_THE_MARK_STOPS
    if on_it and 0 <= nearest + thirds < len(MARKS):
        return f_number if thirds == 0 else MARKS[nearest + thirds]
    return round(float(f_number * 2.0 ** (thirds / 6)), 3)
