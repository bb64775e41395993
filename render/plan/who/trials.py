"""One change tried: placed, measured again, and the key turned until the face reads as before."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout, place
from render.layout.lamps import light_alone
from render.layout.lens import project
from render.photometry.srgb import luminance
from render.photometry.stops import show_power, stops
from render.plan.who.settings import NEW_PANEL, Setting, Step, changed
from render.plan.who.taken import Taken, relit, take, tone_at
from render.plan.who.tones import Word
from render.trace import Engine

Floats = NDArray[np.float64]
SAMPLES = 2048  # paths per receptor: the bounce of a pale room to about 0.01 stop of a reading
MOST_SHADED_STOPS = 0.3  # a flag that takes more from the face is in its way; common practice
FRAME_STEPS = 9  # places across a thing that are looked for in the picture


@dataclass(frozen=True, slots=True)
class Goal:
    """How dark the backdrop is to be."""

    said: str  # "wanted.paper", or "--want black"
    rows: tuple[int, ...]  # receptors of the run that it holds for
    aim: float  # linear luminance, 1 is white
    most: float  # the most that will do


@dataclass(frozen=True, slots=True)
class Place:
    """One place of the backdrop after a change."""

    point: str
    code: float
    word: Word
    clean: bool
    stops_re_face: float | None


@dataclass(frozen=True, slots=True)
class Cure:
    """A change that was tried, the key turned so that the face reads as before."""

    name: str
    meets: bool
    effort: int
    settings: tuple[Setting, ...]  # for the scene file, the key's new power included
    stops: float  # what the lightest place changes by, in the picture
    code: float  # of the lightest place
    word: Word
    standard_error_stops: float
    face_stops: float  # what the face reading changes by, after a whole step of the dial
    key_power: float  # share of full
    key_power_shown: str
    points: tuple[Place, ...]


class CannotError(Exception):
    """A change that this set-up does not take; its text says why."""


def so_many(stops_: float) -> str:
    """Stops as they are said, without a sign: "0.3 stop", "1.2 stops"."""
    tenths = round(abs(stops_), 1)
    return f"{tenths:.1f} stop{'s' if tenths > 1 else ''}"


def lightest(taken: Taken, rows: Iterable[int]) -> float:
    tones = [tone_at(taken, row) for row in rows]
    return max(float(luminance(np.array(tone.linear))) for tone in tones)


def try_step(base: Taken, goal: Goal, change: Step, engine: Engine | None) -> Cure:
    """Make a change, measure again, and turn the key until the face reads as before."""
    points = [base.layout.points[base.held[row].point].name for row in goal.rows]
    setup = changed(base.setup, change.settings)
    layout = place(setup)
    for setting in change.settings:
        _check_frame(layout, setting)
    taken = take(setup, points, engine, SAMPLES, layout)
    power = _power(base, taken, change)
    settings = change.settings
    key = taken.layout.fronts[taken.layout.key].name
    if power is not None:
        settings = (*settings, Setting(f"light.{key}.power", power))
        taken = _with_power(taken, settings[-1])
    tones = [tone_at(taken, row) for row in range(len(points))]
    light = max(float(luminance(np.array(tone.linear))) for tone in tones)
    palest = max(tones, key=lambda tone: tone.code)
    total = [float(taken.light(row).sum()) for row in range(len(points))]
    errors = np.sqrt((taken.measured.error**2).sum(1))
    face = float(taken.light(-1).sum()) / float(base.light(-1).sum())
    dial = taken.setup.scene.light[key].power
    places = tuple(
        Place(name, tone.code, tone.word, tone.clean, taken.above(total[i], i))
        for i, (name, tone) in enumerate(zip(points, tones, strict=True))
    )
    return Cure(
        name=change.name,
        meets=light <= goal.most,
        effort=change.effort,
        settings=settings,
        stops=float(stops(light / lightest(base, goal.rows))),
        code=palest.code,
        word=palest.word,
        standard_error_stops=float(max(errors[:-1] / total)) / math.log(2),
        face_stops=float(stops(face)),
        key_power=dial,
        key_power_shown=show_power(dial),
        points=places,
    )


def _power(base: Taken, taken: Taken, change: Step) -> float | None:
    """The key's power that keeps the face reading, in the head's steps; None where it stays."""
    layout, light = taken.layout, taken.light(-1)
    key = layout.fronts[layout.key].name
    others = float(light.sum() - light[layout.key])
    wanted = float(base.light(-1).sum()) - others
    if light[layout.key] <= 0 or wanted <= 0:
        raise CannotError("the face does not keep its light")
    more = math.log2(wanted / light[layout.key])
    flag = any(setting.key.startswith(NEW_PANEL) for setting in change.settings)
    if flag and more > MOST_SHADED_STOPS:
        raise CannotError(f"takes {so_many(more)} from the face")
    lamp = taken.setup.scene.light[key]
    flash = taken.setup.kit.flash[lamp.flash] if lamp.flash is not None else None
    step = flash.power_step_stops if flash is not None else 0.0
    more = round(more / step) * step if step else more
    if lamp.fixed and more:
        raise CannotError(f"{key} is fixed, and the face would be {so_many(more)} off")
    below = math.log2(lamp.power) + more
    least = -flash.power_range_stops if flash is not None else -math.inf
    if below > 1e-9:
        raise CannotError(f"{key} lacks {so_many(below)} of power for it")
    if below < least - 1e-9:
        raise CannotError(f"{key} cannot be turned down so far, by {so_many(least - below)}")
    return 2.0**below if more else None


def _with_power(taken: Taken, setting: Setting) -> Taken:
    """The run as it is at another power of the key; light adds, so nothing is traced."""
    setup = changed(taken.setup, [setting])
    key = setup.scene.light[taken.layout.fronts[taken.layout.key].name]
    return relit(taken, setup, light_alone(setup, key)[0])


def _check_frame(layout: Layout, setting: Setting) -> None:
    """Neither a new flag nor a light that has moved may stand in the picture."""
    kind, name, *_ = setting.key.split(".")
    if kind == "panel":
        things = [sheet for sheet in layout.sheets if sheet.name == name and sheet.kind == "panel"]
        if any(_in_picture(layout, sheet.corners_m) for sheet in things):
            raise CannotError("stands in the picture")
    elif kind == "light" and setting.key.endswith(".distance_m"):
        front = next(front for front in layout.fronts if front.name == name)
        x, y = 0.5 * front.width_m * front.right, 0.5 * front.height_m * front.up
        corners = front.centre_m + np.stack([-x - y, x - y, x + y, y - x])
        if _in_picture(layout, corners):
            raise CannotError("stands in the picture")


def _in_picture(layout: Layout, corners: Floats) -> bool:
    """Whether any of a rectangle (4, 3) [m] falls into the frame."""
    if layout.view is None:
        return False
    s = np.linspace(0, 1, FRAME_STEPS)
    across, up = corners[1] - corners[0], corners[3] - corners[0]
    places = corners[0] + s[:, None, None] * across + s[None, :, None] * up
    seen = project(layout.view, places)
    return bool(np.all((seen >= 0) & (seen <= 1), axis=-1).any())
