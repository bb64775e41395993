"""Readings beside what is predicted for them, and the question that a wild one raises."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from render.errors import ReadingsError
from render.layout import Layout
from render.layout.calibration import beyond_dial, readings_of
from render.layout.lamps import light_alone
from render.photometry.exposure import f_number, luminous_exposure_for
from render.photometry.stops import show_f_number, show_power
from render.plan.calibrate.noted import Notebook, Noted
from render.plan.calibrate.offsets import Taken
from render.plan.calibrate.places import Ahead, with_ahead
from render.report.held import ALL, Held, Measured, hold
from render.report.readings import meter_speed
from render.scenefile import Setup
from render.studio.light import Light
from render.studio.scene import Receptor

Outfit = tuple[object, ...]

NOISE_STOPS = 0.1  # of one reading: repeatability of a flash meter; common practice, no source
# How far the output of a light is likely to be off: the spread between makes that the kit states;
# once metered, the meter's own 0.1 and a dial true to 0.2 (common practice, no source).
TYPICAL_PRIOR_STOPS, METERED_PRIOR_STOPS = 0.5, 0.22
# Where part of a light is hidden, a head that sits a centimetre otherwise changes the reading.
SHADE_STOPS, HARDLY = 0.3, 0.02  # [stops]; share of the light; common practice, no source
NONSENSE_STOPS = 3.0  # six times the spread between makes; no light is so far off by itself
ALIKE_STOPS = 0.5  # a reading so near to that of all lights may be one


@dataclass(frozen=True, slots=True)
class Page:
    """A file of readings (n), each with the receptor held as it says in a placed set-up."""

    setup: Setup
    layout: Layout
    file: Path
    notes: Sequence[Noted]
    keys: Sequence[str]  # (n,) where each stands in the file
    held: list[Held]
    ahead: tuple[Ahead, ...]  # points of the layout that go with a light
    outfits: list[Outfit]  # of every light; those alike share a correction

    def speed(self, i: int) -> float:
        return self.notes[i].iso_speed or meter_speed(self.setup)

    def constant(self, receptor: Receptor) -> float:
        """The meter's constant [lx·s] for the receptor that is out."""
        meter = self.setup.scene.meter
        return meter.c_flat if receptor == "flat" else meter.c_dome

    def shown(self, i: int, luminous_exposure: float) -> float:
        """f-number that the meter of a reading shows for light on it [lx·s]."""
        constant = self.constant(self.held[i].receptor)
        return float(f_number(luminous_exposure, self.speed(i), constant))

    def would(self, receptor: Receptor, luminous_exposure: float) -> float:
        """f-number that a meter at the scene's speed would show for light on it [lx·s]."""
        speed = meter_speed(self.setup)
        return float(f_number(luminous_exposure, speed, self.constant(receptor)))


def open_page(setup: Setup, layout: Layout, file: Path, book: Notebook) -> Page:
    """Hold the receptor for every reading; raises ReadingsError for what the scene has not.

    The layout of the page has the places straight ahead of lights among its points.
    """
    names = [front.name for front in layout.fronts]
    for key, note in zip(book.keys, book.notes, strict=True):
        _check(setup, layout, file, key, note)
    wanted = [
        (names.index(note.light), note.distance_m)
        for note in book.notes
        if note.distance_m is not None
    ]
    layout, ahead = with_ahead(setup, layout, dict.fromkeys(wanted))
    points = [point.name for point in layout.points]
    on_axis = {(names[each.lamp], each.distance_m): each.point for each in ahead}
    held = []
    for note in book.notes:
        at = (
            points.index(note.point)
            if note.point is not None
            else on_axis[note.light, note.distance_m or 0.0]
        )
        held.append(hold(layout, at, note.light, note.receptor, note.aim))
    outfits = [outfit(setup, name) for name in setup.scene.light]
    return Page(setup, layout, file, book.notes, book.keys, held, ahead, outfits)


def outfit(setup: Setup, name: str) -> Outfit:
    """What one correction is for: a flash with its modifier as worn; else the light by itself."""
    light = setup.scene.light[name]
    if light.flash is None or light.modifier is None:
        return (name,)
    modifier = setup.kit.modifier.get(light.modifier)
    usual = modifier.diffusers if modifier is not None else None
    cloths = usual if light.diffusers is None else light.diffusers
    grid = light.grid if light.grid is not None else light.grid_deg
    return light.flash, light.modifier, cloths, grid, tuple(sorted(light.gel)), light.nd


def _check(setup: Setup, layout: Layout, file: Path, key: str, note: Noted) -> None:
    """Raise ReadingsError for what the scene does not have."""
    points = [point.name for point in layout.points]
    if note.point is not None and note.point not in points:
        wanted = (
            f"accepted: {', '.join(points)}, a place of your own as [point.NAME] in this file, or "
            "distance_m straight ahead of the light"
        )
        raise ReadingsError(file, f"{key}point", f'found "{note.point}"', wanted)
    lit = [name for name, light in setup.scene.light.items() if light.on]
    if note.light not in (*lit, ALL):
        what = "is off in the scene" if note.light in setup.scene.light else "is no light of it"
        wanted = f"accepted: {', '.join([*lit, ALL])}"
        raise ReadingsError(file, f"{key}light", f'"{note.light}" {what}', wanted)
    if note.aim == "camera" and layout.view is None:
        wanted = "accepted: light, normal, or a [camera] table in the scene"
        raise ReadingsError(file, f"{key}aim", "no camera in the scene", wanted)
    if note.power is not None:
        _check_power(setup, file, f"{key}power", note.light, note.power)


def _check_power(setup: Setup, file: Path, key: str, light: str, power: float) -> None:
    if light == ALL:
        raise ReadingsError(
            file, key, "found a power for all lights", "for one light alone; all as in the scene"
        )
    flash = setup.scene.light[light].flash
    problem = beyond_dial(flash, setup.kit.flash[flash], power) if flash is not None else None
    if problem is not None:
        raise ReadingsError(file, key, *problem)


def beside(page: Page, measured: Measured) -> Taken:
    """Readings beside the light that is predicted for them, the dials as they stood.

    Raises ReadingsError for a reading that is NONSENSE_STOPS off or more.
    """
    setup, notes, layout, outfits = page.setup, page.notes, page.layout, page.outfits
    dial = np.zeros((len(notes), len(layout.fronts)))
    for i, (note, each) in enumerate(zip(notes, page.held, strict=True)):
        for j in each.chosen(layout):
            dial[i, j] = _turned(setup, layout.fronts[j].name, note.power)
    direct, bounced = measured.direct * dial, measured.bounce * dial
    total = (direct + bounced).sum(1)
    doubt = np.sqrt(((measured.error * dial) ** 2).sum(1))
    error = np.divide(doubt, total * math.log(2), out=np.zeros_like(total), where=total > 0)
    read = [
        luminous_exposure_for(note.f_number, page.speed(i), page.constant(page.held[i].receptor))
        for i, note in enumerate(notes)
    ]
    kinds = list(dict.fromkeys(outfits))
    first = [list(setup.scene.light)[outfits.index(kind)] for kind in kinds]
    straight, clear = (measured.direct * dial).sum(1), (measured.clear * dial).sum(1)
    edge = (straight > HARDLY * clear) & (straight < (1 - HARDLY) * clear)
    taken = Taken(
        direct,
        bounced,
        dial,
        np.array(read, float),
        np.hypot(np.where(edge, SHADE_STOPS, NOISE_STOPS), error),
        np.array([kinds.index(kind) for kind in outfits]),
        np.array([_prior(setup, name) for name in first]),
    )
    _check_sense(page, taken, measured)
    return taken


def _turned(setup: Setup, name: str, power: float | None) -> float:
    """Light of a lamp at another power over that at the scene's; a gel's share goes with it."""
    light = setup.scene.light[name]
    if power is None or power == light.power:
        return 1.0
    other = light.model_copy(update={"power": power})
    now, then = (light_alone(setup, each)[0].luminous_energy_lm_s for each in (light, other))
    return then / now


def _prior(setup: Setup, name: str) -> float:
    light = setup.scene.light[name]
    if light.flash is None or light.modifier is None:
        return TYPICAL_PRIOR_STOPS
    metered = readings_of(setup, light.flash, light.modifier)
    return METERED_PRIOR_STOPS if metered else TYPICAL_PRIOR_STOPS


def _check_sense(page: Page, taken: Taken, measured: Measured) -> None:
    """Ask about the reading that is farthest off, where that is too far; raises ReadingsError."""
    total = (taken.direct + taken.bounce).sum(1)
    with np.errstate(divide="ignore"):
        off = np.log2(taken.read) - np.log2(total)
    i = int(np.argmax(np.abs(off)))
    if abs(off[i]) < NONSENSE_STOPS:
        return
    note, each = page.notes[i], page.held[i]
    shown = show_f_number(page.shown(i, total[i]))
    way = "more" if off[i] > 0 else "less"
    found = f"{show_f_number(note.f_number)} at {note.at} from {note.light}"
    if not math.isfinite(off[i]):
        found += ", where no light of it is predicted"
    else:
        found += f", {abs(off[i]):.1f} stops {way} than predicted ({shown})"
    asks = []
    if each.lights != ALL and math.isfinite(off[i]):
        light = page.setup.scene.light[note.light]
        asks.append(_power_question(page.setup, light, note.power or light.power, float(off[i])))
    asks.append(f"was the meter at ISO {page.speed(i):g}")
    every = float((measured.direct[i] + measured.bounce[i]).sum())
    if each.lights != ALL:
        near = every > 0 and abs(math.log2(taken.read[i] / every)) < ALIKE_STOPS
        other = f" (all lights together read {show_f_number(page.shown(i, every))})"
        asks.append("was another light on" + (other if near else ""))
    asks.append(f"was the {each.receptor} receptor out, aimed at the {each.aim}")
    wanted = ", ".join(asks) + "? Correct the reading or leave it out"
    raise ReadingsError(page.file, f"{page.keys[i]}f_number", found, wanted)


def _power_question(setup: Setup, light: Light, power: float, off_stops: float) -> str:
    """The dial, and where it would have stood for this reading if that is on the dial."""
    would = power * 2.0**off_stops
    flash = setup.kit.flash.get(light.flash or "")
    fits = would <= 1 and (flash is None or would >= 2.0**-flash.power_range_stops)
    other = f" (it would fit {show_power(would)})" if fits else ""
    return f"was the dial at {show_power(power)}{other}"
