"""One change tried: placed, measured again, and the key turned until the face reads as before."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout import place
from render.layout.lamps import light_alone
from render.photometry.stops import f_number_stops, show_f_number, show_power, stops
from render.plan.balance.dials import click, marking
from render.plan.changes.objections import in_the_way_after
from render.plan.changes.settings import NEW_PANEL, Setting, Step, changed, merged, so_many
from render.plan.who.goals import DARK_STOPS, MEETS_STOPS, Goal, Way, extreme
from render.plan.who.taken import Taken, reading_of, relit, take, tone_at
from render.plan.who.tones import Word, code_of
from render.report.readings import wanted_f_numbers
from render.trace import Engine

Floats = NDArray[np.float64]
SAMPLES = 4096  # paths per receptor: the bounce of a pale room to about 0.01 stop of a reading
MOST_SHADED_STOPS = 0.3  # a flag that takes more from the face is in its way; common practice
KEPT_STOPS = 0.05  # a face reading that changes by less shows as +0.0
SURE = 3.0  # standard errors by which a wish must be missed by more, to be told
LIT_ONLY = ("light.", "room.")  # begin keys that leave sitter, panels and backdrop in place


@dataclass(frozen=True, slots=True)
class Place:
    """One place after a change."""

    point: str
    f_number: float
    shown: str
    stops_re_face: float | None
    code: float | None  # of a backdrop
    word: Word | None
    clean: bool | None


@dataclass(frozen=True, slots=True)
class Cure:
    """A change that was tried, the key turned so that the face reads as before."""

    name: str
    meets: bool
    effort: int  # 1 the least; see `render.plan.changes.settings`
    settings: tuple[Setting, ...]  # for the scene file, the key's new power included
    stops: float  # what the place that counts changes by
    off_stops: float  # outside what is wanted of it
    f_number: float
    shown: str
    code: float | None  # of it, where a tone is wanted
    word: Word | None
    standard_error_stops: float
    face_stops: float  # what the face reading changes by, after a whole step of the dial
    key_power: float  # share of full
    key_power_shown: str
    upsets: tuple[str, ...]  # other wishes that are missed by a tenth more, or more
    points: tuple[Place, ...]


class CannotError(Exception):
    """A change that this set-up does not take; its text says why."""


def try_step(base: Taken, goal: Goal, way: Way, change: Step, engine: Engine | None) -> Cure:
    """Make a change, measure again, and turn the key until the face reads as before.

    Raises SceneError, KitError or CannotError where the set-up does not take it.
    """
    setup = changed(base.setup, change.settings)
    layout = place(setup, base.layout.body, spots=False)  # no change moves sitter or camera
    for fault in in_the_way_after((base.setup, base.layout), (setup, layout), change.settings):
        raise CannotError(fault.words)
    same = all(setting.key.startswith(LIT_ONLY) for setting in change.settings)
    taken = take(setup, base.names, engine, SAMPLES, layout, base.still if same else None)
    power = _power(base, taken, change)
    settings = change.settings
    key = taken.layout.fronts[taken.layout.key].name
    if power is not None:
        settings = merged((*settings, Setting(f"light.{key}.power", power)))
        taken = _with_power(taken, settings[-1])
    (before, _), (level, row) = extreme(base, goal, way), extreme(taken, goal, way)
    total = float(taken.light(row).sum())
    error = float(np.sqrt((taken.measured.error[row] ** 2).sum()))
    number = reading_of(taken.setup, total, taken.held[row])
    dial = taken.setup.scene.light[key].power
    tone = tone_at(taken, row) if goal.tone else None
    return Cure(
        name=change.name,
        meets=goal.meets(level, way),
        effort=change.effort,
        settings=settings,
        stops=float(stops(level / before)) if level > 0 and before > 0 else 0.0,
        off_stops=goal.off_stops(level),
        f_number=number,
        shown=show_f_number(number),
        code=code_of(level) if tone is not None else None,
        word=tone.word if tone is not None else None,
        standard_error_stops=error / total / math.log(2) if total > 0 else 0.0,
        face_stops=float(stops(float(taken.light(-1).sum()) / float(base.light(-1).sum()))),
        key_power=dial,
        key_power_shown=show_power(dial),
        upsets=_upset(base, taken, goal),
        points=tuple(_after(taken, each) for each in goal.rows),
    )


def _after(taken: Taken, row: int) -> Place:
    held, light = taken.held[row], float(taken.light(row).sum())
    number = reading_of(taken.setup, light, held)
    point = taken.layout.points[held.point]
    tone = tone_at(taken, row) if point.on == "backdrop" else None
    return Place(
        point=point.name,
        f_number=number,
        shown=show_f_number(number),
        stops_re_face=taken.above(light, row),
        code=None if tone is None else tone.code,
        word=None if tone is None else tone.word,
        clean=None if tone is None else tone.clean,
    )


def _upset(base: Taken, taken: Taken, goal: Goal) -> tuple[str, ...]:
    """Wishes besides the goal that are missed then, by a meter's tenth more than before."""
    before, after = _missed(base), _missed(taken)
    found = []
    for name, (was, was_error) in before.items():
        now, error = after[name]
        least = was + MEETS_STOPS + SURE * math.hypot(error, was_error)
        if f"wanted.{name}" != goal.said and now > least:
            found.append(name)
    return tuple(found)


def _missed(taken: Taken) -> dict[str, tuple[float, float]]:
    """How far every wish lies outside its range, without sign, and its standard error [stops]."""
    found = {}
    wishes = zip(taken.setup.scene.wanted.items(), wanted_f_numbers(taken.setup), strict=True)
    for k, ((name, wish), wanted) in enumerate(wishes):
        row = taken.places + k
        light = float(taken.light(row).sum())
        error = float(np.sqrt((taken.measured.error[row] ** 2).sum()))
        number = reading_of(taken.setup, light, taken.held[row])
        off = float(f_number_stops(number) - f_number_stops(wanted)) if number > 0 else DARK_STOPS
        low, high = wish.range_stops or (0.0, 0.0)
        miss = max(off - high, low - off, 0.0)
        found[name] = miss, error / light / math.log(2) if light > 0 else 0.0
    return found


def _power(base: Taken, taken: Taken, change: Step) -> str | None:
    """The key's power that keeps the face reading, as on its dial; None where it stays."""
    layout, light = taken.layout, taken.light(-1)
    key = layout.fronts[layout.key].name
    others = float(light.sum() - light[layout.key])
    wanted = float(base.light(-1).sum()) - others
    if light[layout.key] <= 0 or wanted <= 0:
        raise CannotError("the face does not keep its light")
    more = math.log2(wanted / light[layout.key])
    flag = any(setting.key.startswith(NEW_PANEL) for setting in change.settings)
    if flag and (lost := math.log2(_seen(base) / max(_seen(taken), 1e-9))) > MOST_SHADED_STOPS:
        raise CannotError(f"takes {so_many(lost)} from the face")
    lamp = taken.setup.scene.light[key]
    flash = taken.setup.kit.flash[lamp.flash] if lamp.flash is not None else None
    step = click(flash.power_step_stops) if flash is not None else 0.0
    more = round(more / step) * step if step else more
    if lamp.fixed:
        if abs(more) > KEPT_STOPS:
            raise CannotError(f"{key} is fixed, and the face would be {so_many(more)} off")
        return None
    below = math.log2(lamp.power) + more
    least = -flash.power_range_stops if flash is not None else -math.inf
    if below > 1e-9:
        raise CannotError(f"{key} lacks {so_many(below)} of power for it")
    if below < least - 1e-9:
        raise CannotError(f"{key} cannot be turned down so far, by {so_many(least - below)}")
    return marking(below, step) if more else None


def _seen(taken: Taken) -> float:
    """Share of its straight light that the face gets."""
    clear = float(taken.measured.clear[-1].sum())
    return float(taken.measured.direct[-1].sum()) / clear if clear > 0 else 1.0


def _with_power(taken: Taken, setting: Setting) -> Taken:
    """The run as it is at another power of the key; light adds, so nothing is traced."""
    setup = changed(taken.setup, [setting])
    key = setup.scene.light[taken.layout.fronts[taken.layout.key].name]
    return relit(taken, setup, light_alone(setup, key)[0])
