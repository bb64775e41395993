"""What is wanted of a place: a reading by a wish, stops from the face, or a tone by a word."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.errors import OutputError
from render.photometry.exposure import linear_value, luminous_exposure_for
from render.photometry.srgb import luminance
from render.photometry.stops import show_f_number
from render.plan.who.taken import Taken, constant_of, exposed, reading_of, tone_at
from render.plan.who.tones import Word, code_of, range_of
from render.report.held import ALL
from render.report.readings import meter_speed, wanted_f_numbers

Floats = NDArray[np.float64]
Way = Literal["darker", "lighter"]

MEETS_STOPS = 0.1  # a wish is met within what a flash meter shows
DARK_STOPS = -12.0  # less light counts as this much too little
OPTION = "--want"


@dataclass(frozen=True, slots=True)
class Goal:
    """A range that levels of places are to lie in.

    A level is linear luminance in the picture (1 is white) where a tone of the backdrop is wanted,
    else the square of the f-number that the meter shows.
    """

    said: str  # "wanted.paper", "--want black"
    wanted: str  # "code 15 or less", "f/4 +0.0"
    rows: tuple[int, ...]  # receptors of the run that it holds for
    tone: bool
    low: float
    high: float
    play_stops: float  # outside the range that is near enough
    exact: bool = True  # False where more than enough is as good, as of black or of spill

    def off_stops(self, level: float) -> float:
        """How far a level lies outside the range; + is too bright."""
        if level > self.high:
            return math.log2(level / self.high)
        if level < self.low:
            return math.log2(max(level / self.low, 2.0**DARK_STOPS))
        return 0.0

    def meets(self, level: float, way: Way) -> bool:
        """Whether that is dark enough, or light enough."""
        off = self.off_stops(level)
        return off <= self.play_stops if way == "darker" else off >= -self.play_stops


def goals_of(taken: Taken, want: Word | float | None) -> tuple[Goal, ...]:
    """What is wanted of the places that are asked about: by a word, by stops, else by wishes.

    want : a word for the backdrop, or stops from the face reading
    Raises OutputError where no place can have that.
    """
    if want is None:
        return _wished(taken)
    if isinstance(want, float):
        return _in_stops(taken, want)
    rows = tuple(row for row in range(taken.places) if _on(taken, row) == "backdrop")
    if not rows:
        raise OutputError(f"{OPTION}: found {want} (accepted: with a place on a backdrop)")
    low, high = range_of(want)
    codes = (round(code_of(low) + 0.5), int(code_of(min(high, 1.0))))
    words = {"black": f"{codes[1]} or less", "white": f"{codes[0]} or more"}
    wanted = f"code {words.get(want, f'{codes[0]} to {codes[1]}')}"
    return (Goal(f"{OPTION} {want}", wanted, rows, True, low, high, 0.0, False),)


def _in_stops(taken: Taken, want: float) -> tuple[Goal, ...]:
    face = taken.held[-1]
    rows = [
        row
        for row in range(taken.places)
        if (taken.held[row].point, face.lights) != (face.point, ALL)
    ]
    number = reading_of(taken.setup, float(taken.light(-1).sum()), face)
    if not rows or number <= 0:
        raise OutputError(f"{OPTION}: found {want:+g} (accepted: with a place besides the face)")
    aim = number**2 * 2.0**want
    wanted = show_f_number(math.sqrt(aim))
    said = f"{OPTION} {want:+g}"
    return tuple(Goal(said, wanted, (row,), False, aim, aim, MEETS_STOPS) for row in rows)


def _wished(taken: Taken) -> tuple[Goal, ...]:
    """Wishes at the places that are asked about, but for the one that the face is held by."""
    found, face = [], taken.held[-1]
    wishes = zip(taken.setup.scene.wanted.items(), wanted_f_numbers(taken.setup), strict=True)
    for k, ((name, wish), number) in enumerate(wishes):
        row = taken.places + k
        held = taken.held[row]
        if wish.point not in taken.names or (held.point, held.lights) == (face.point, face.lights):
            continue
        tone = held.lights == ALL and _on(taken, row) == "backdrop" and exposed(taken)[0] > 0
        aim = _tone_wished(taken, number) if tone else number**2
        low, high = (aim * 2.0**part for part in wish.range_stops or (0.0, 0.0))
        play = 0.0 if wish.range_stops else MEETS_STOPS
        wanted = _said(low, high) if tone else show_f_number(number)
        if wish.range_stops and not tone:
            wanted += f" ({wish.range_stops[0]:+.1f} to {wish.range_stops[1]:+.1f})"
        exact = held.lights == ALL
        found.append(Goal(f"wanted.{name}", wanted, (row,), tone, low, high, play, exact))
    return tuple(found)


def _said(low: float, high: float) -> str:
    """Codes of a range of tones."""
    codes = [int(code_of(min(each, 1.0))) for each in (low, high)]
    return f"code {codes[1]}" if codes[0] == codes[1] else f"code {codes[0]} to {codes[1]}"


def _on(taken: Taken, row: int) -> str:
    return taken.layout.points[taken.held[row].point].on


def _tone_wished(taken: Taken, f_number: float) -> float:
    """Linear luminance of the paper that hangs there where a meter on it shows an f-number."""
    sheet = next(each for each in taken.layout.sheets if each.kind == "backdrop")
    constant = taken.setup.scene.meter.c_flat
    light = luminous_exposure_for(f_number, meter_speed(taken.setup), constant)
    leaves = float(luminance(np.array(sheet.reflectance))) * float(light) / math.pi
    number, speed = exposed(taken)
    return float(linear_value(leaves, speed, number, constant))


def level_at(taken: Taken, row: int, tone: bool) -> float:
    """The level of a receptor; see `Goal`."""
    if tone:
        return float(luminance(np.array(tone_at(taken, row).linear)))
    light = float(taken.light(row).sum())
    return light * meter_speed(taken.setup) / constant_of(taken.setup, taken.held[row])


def worst(taken: Taken, goal: Goal) -> tuple[float, Way]:
    """Level of the place that is farthest outside the range, and which way it has to go."""
    levels = [level_at(taken, row, goal.tone) for row in goal.rows]
    high, low = max(levels), min(levels)
    if goal.off_stops(high) >= -goal.off_stops(low):
        return high, "darker"
    return low, "lighter"


def extreme(taken: Taken, goal: Goal, way: Way) -> tuple[float, int]:
    """Level of the lightest place (the darkest, where it has to get lighter), and its receptor."""
    levels = [(level_at(taken, row, goal.tone), row) for row in goal.rows]
    return max(levels) if way == "darker" else min(levels)
