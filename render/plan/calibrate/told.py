"""A calibration in rows: each reading before and after, each correction, each cause in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.photometry.stops import show_f_number
from render.plan.calibrate.beside import Page
from render.plan.calibrate.causes import UNEXPLAINED_CHANCE, Found, alone
from render.plan.calibrate.further import LEAST_APART_STOPS, OUTPUT, Further, Reason
from render.plan.calibrate.offsets import Fit, Taken
from render.report.held import ALL
from render.studio.scene import Aim, Receptor


@dataclass(frozen=True, slots=True)
class ReadRow:
    """One reading: predicted before, read, predicted after."""

    point: str  # or "0.7 m ahead": of the light
    light: str
    receptor: Receptor
    aim: Aim
    power: float | None  # share of full as it was read; None for all lights
    iso_speed: float
    date: str | None
    predicted_f_number: float
    predicted: str
    read_f_number: float
    read: str
    after_f_number: float
    after: str
    off_before_stops: float  # read minus predicted
    off_after_stops: float
    noise_stops: float  # one standard deviation that is reckoned with


@dataclass(frozen=True, slots=True)
class Correction:
    """What a flash with its modifier gives more than predicted."""

    lights: tuple[str, ...]
    flash: str | None
    modifier: str | None
    readings: int  # that it takes part in
    points: int
    correction_stops: float
    standard_error_stops: float
    prior_stops: float
    calibration: str  # before
    date: str | None  # of the latest reading


@dataclass(frozen=True, slots=True)
class CauseRow:
    """Why readings of one light disagree, where noise does not explain it."""

    light: str
    cause: str  # distance, aim sideways, aim up or down, hot spot, bounce; none where none does
    amount: float | None
    unit: str
    standard_error: float | None
    noise_chance: float  # of noise alone that does as much, output allowed for
    bic_gain: float | None  # by which the criterion falls with this cause
    rivals: tuple[str, ...]  # causes that explain it nearly as well
    sentence: str


@dataclass(frozen=True, slots=True)
class NextRow:
    """The reading that would best tell the two likeliest explanations of a light apart."""

    light: str
    causes: tuple[str, str]  # the likelier one first; output or a cause
    point: str | None  # None where no place of the set tells them apart
    receptor: Receptor | None
    apart_stops: float  # between the two readings
    f_numbers: tuple[float, float] | None  # that either would show
    sentence: str


def read_rows(page: Page, taken: Taken, best: Fit) -> tuple[ReadRow, ...]:
    """Every reading, in the order of the file."""
    made = []
    before = (taken.direct + taken.bounce).sum(1)
    for i, (note, each) in enumerate(zip(page.notes, page.held, strict=True)):
        old, new = (page.shown(i, float(x)) for x in (before[i], best.predicted[i]))
        power = (
            None if each.lights == ALL else note.power or page.setup.scene.light[each.lights].power
        )
        made.append(
            ReadRow(
                point=note.at,
                light=note.light,
                receptor=each.receptor,
                aim=each.aim,
                power=power,
                iso_speed=page.speed(i),
                date=note.date.isoformat() if note.date is not None else None,
                predicted_f_number=old,
                predicted=show_f_number(old),
                read_f_number=note.f_number,
                read=show_f_number(note.f_number),
                after_f_number=new,
                after=show_f_number(new),
                off_before_stops=float(np.log2(taken.read[i] / before[i])),
                off_after_stops=float(best.residual[i]),
                noise_stops=float(taken.sigma[i]),
            )
        )
    return tuple(made)


def corrections(page: Page, taken: Taken, best: Fit) -> tuple[Correction, ...]:
    """One for each flash and modifier that a reading tells of."""
    made = []
    for k in range(len(taken.prior)):
        lamps = [j for j in range(len(page.outfits)) if taken.group[j] == k]
        rows = np.flatnonzero(taken.dial[:, lamps].sum(1) > 0)
        if not len(rows):
            continue
        light = page.setup.scene.light[page.layout.fronts[lamps[0]].name]
        dates = [
            note.date for note in (page.notes[i] for i in rows.tolist()) if note.date is not None
        ]
        made.append(
            Correction(
                lights=tuple(page.layout.fronts[j].name for j in lamps),
                flash=light.flash,
                modifier=light.modifier,
                readings=len(rows),
                points=len({page.held[i].point for i in rows}),
                correction_stops=float(best.offsets[k]),
                standard_error_stops=float(best.errors[k]),
                prior_stops=float(taken.prior[k]),
                calibration=page.layout.calibrations[lamps[0]],
                date=max(dates).isoformat() if dates else None,
            )
        )
    return tuple(made)


def cause_rows(page: Page, taken: Taken, best: Fit, found: list[Found]) -> tuple[CauseRow, ...]:
    """Causes that explain a disagreement, then lights whose disagreement nothing explains."""
    rows = []
    for each in found:
        lamp = each.cause.lamp
        amount, error = best.amounts[lamp], best.amount_errors[lamp]
        name = page.layout.fronts[lamp].name
        words, unit, scale = _words(name, each.cause.name, amount)
        said = f"{words} (±{error * scale:.2g} {unit})"
        if each.rivals:
            said += f"; {' or '.join(each.rivals)} would explain it nearly as well"
        chance, gain = each.noise_chance, each.bic_gain
        rows.append(
            CauseRow(
                name,
                each.cause.name,
                amount * scale,
                unit,
                error * scale,
                chance,
                gain,
                each.rivals,
                said + ".",
            )
        )
    told = {each.cause.lamp for each in found}
    for lamp, front in enumerate(page.layout.fronts):
        chance = best.chance(alone(page.layout, page.held, lamp), taken.sigma)
        if lamp not in told and chance < UNEXPLAINED_CHANCE:
            said = (
                f"Readings of {front.name} disagree by more than noise, and no one thing (output, "
                "distance, aim, hot spot, bounce) explains it."
            )
            rows.append(CauseRow(front.name, "none", None, "", None, chance, None, (), said))
    return tuple(rows)


def next_rows(page: Page, unsure: list[Further]) -> tuple[NextRow, ...]:
    """What to read next, in words."""
    rows = []
    for each in unsure:
        name = page.layout.fronts[each.lamp].name
        said = f"{name}: {' or '.join(_reason(name, why) for why in each.reasons)}? "
        if each.at is None or each.f_numbers is None:
            said += (
                f"No place of the set tells these apart by {LEAST_APART_STOPS:g} stop: measure "
                "with a tape."
            )
        else:
            place = each.place.replace("_", " ")
            shown = [show_f_number(number) for number in each.f_numbers]
            first, second = (why.name for why in each.reasons)
            said += (
                f"Read it alone, {each.at.receptor}, aimed at it: {place}. {shown[0]} says "
                f"{first}, {shown[1]} says {second}, {each.apart_stops:.1f} stop apart."
            )
        rows.append(
            NextRow(
                light=name,
                causes=(each.reasons[0].name, each.reasons[1].name),
                point=each.place or None,
                receptor=each.at.receptor if each.at is not None else None,
                apart_stops=each.apart_stops,
                f_numbers=each.f_numbers,
                sentence=said,
            )
        )
    return tuple(rows)


def _reason(light: str, why: Reason) -> str:
    if why.name == OUTPUT:
        return f"{abs(why.offset):.1f} stop {_way(why.offset > 0, 'more/less')} from the flash"
    words = _words(light, why.name, why.amount)[0]
    return words[0].lower() + words[1:]


def _words(light: str, cause: str, amount: float) -> tuple[str, str, float]:
    """Words for a cause, its unit in them, and what takes the amount into that unit.

    Sides as seen from behind the light, looking the way it shines.
    """
    more, size = amount > 0, abs(amount)
    if cause == "distance":
        return f"As if {light} stood {100 * size:.0f} cm {_way(more, 'nearer/farther')}", "cm", 100
    if cause in ("aim sideways", "aim up or down"):
        sideways = cause == "aim sideways"
        way = _way(more, "to its left/to its right" if sideways else "further down/further up")
        return f"As if {light} were turned {size:.0f} degrees {way}", "degrees", 1
    if cause == "hot spot":
        way = _way(more, "darker/brighter")
        return f"As if the edge of {light} were {size:.1f} stop {way}", "stop", 1
    return (
        f"As if the room gave back {size:.1f} stop {_way(more, 'more/less')} of {light}",
        "stop",
        1,
    )


def _way(more: bool, pair: str) -> str:
    return pair.split("/")[0 if more else 1]
