"""How far every head is from both ends of its dial, and which wanted readings lie beyond them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.photometry.exposure import luminous_exposure_for
from render.photometry.stops import show_f_number
from render.plan.balance.dials import click, marking
from render.plan.checks.finding import Context, Finding, Verdict
from render.predict import enclosure_estimate
from render.report.held import ALL, measure
from render.report.readings import meter_speed, wanted_f_numbers, wished_readings
from render.studio.scene import Wish

Floats = NDArray[np.float64]

ON_STEP_STOPS = 0.02  # a power written to a hundredth of a stop is meant to be on its step
WITHIN_STOPS = 0.1  # nearer than a meter repeats is reached; common practice, no source
# The room taken as uniform is off by up to a factor of two, and panels return light besides.
ESTIMATE_STOPS = 0.5
ESTIMATED = f"(estimate, good to {ESTIMATE_STOPS:g} stop)"


def no_dials(context: Context) -> str:
    """Why no power can be held against its dial."""
    lights = context.setup.scene.light.values()
    fired = any(light.flash is not None and light.on for light in lights)
    return "" if fired else "no flash head fires"


def no_wishes(context: Context) -> str:
    """Why no wanted reading can be reached or missed."""
    if not context.setup.scene.wanted:
        return "the scene wants no readings"
    return no_dials(context)


def check_dials(context: Context) -> list[Finding]:
    """Every head's power in stops from both ends, and whether the dial can be set to it."""
    found = []
    for name, light in context.setup.scene.light.items():
        if light.flash is None or not light.on:
            continue
        flash = context.setup.kit.flash[light.flash]
        below, step = math.log2(light.power), click(flash.power_step_stops)
        up, down = -below + 0.0, flash.power_range_stops + below
        about = f"light.{name}"
        words = (
            f"{about} at {marking(below, step)} has {up:.1f} stops up to full power and "
            f"{down:.1f} down to the least of {light.flash}."
        )
        found.append(Finding("reach", about, "fine", min(up, down), "stops to spare", 0.0, words))
        off = below - step * round(below / step) if step else 0.0
        if abs(off) > ON_STEP_STOPS:
            near = marking(step * round(below / step), step)
            words = (
                f"{about} clicks by {step:.2g} stop; nearest to the power of the scene is {near}, "
                f"{abs(off):.2f} stop {'below' if off > 0 else 'above'} it."
            )
            found.append(Finding("step", about, "look", off, "stops", ON_STEP_STOPS, words))
    return found


def check_wishes(context: Context) -> list[Finding]:
    """Wanted readings that the head which gives most of their light cannot reach by its dial.

    The light that the first wished f-number hangs on is taken as that needs it. Direct light in
    closed form, the room's bounce as a uniform enclosure.
    """
    setup, layout = context.setup, context.layout
    held = wished_readings(setup, layout)
    measured = measure(layout, held, None, 0)
    even = {receptor: enclosure_estimate(layout, receptor) for receptor in ("flat", "dome")}
    constants = {"flat": setup.scene.meter.c_flat, "dome": setup.scene.meter.c_dome}
    first: tuple[int, float, str] | None = None  # light, how it is turned for the first f-number
    found = []
    wishes = setup.scene.wanted.items()
    for i, ((name, wish), aim) in enumerate(zip(wishes, wanted_f_numbers(setup), strict=True)):
        receptor, chosen = held[i].receptor, list(held[i].chosen(layout))
        light = np.zeros(len(layout.fronts))
        light[chosen] = (measured.direct[i] + even[receptor])[chosen]
        if not light.any():
            continue
        exact = float(luminous_exposure_for(aim, meter_speed(setup), constants[receptor]))
        ends = [exact * 2.0**off for off in wish.range_stops or (0.0, 0.0)]
        what = _said(aim, wish, layout.points[held[i].point].name)
        if first is not None and held[i].lights == ALL:
            light[first[0]] *= 2.0 ** first[1]
            sure = float(light.sum()) > ends[1] * 2.0**ESTIMATE_STOPS
            if sure and light[first[0]] > ends[1]:
                found.append(_too_bright(context, f"wanted.{name}", what, first, light, ends[1]))
                continue
        most = int(np.argmax(light))
        rest = float(light.sum() - light[most])
        wanted = min(max(float(light.sum()), ends[0]), ends[1])
        strongest = (most, float(light[most]))
        found.append(_wish(context, f"wanted.{name}", what, strongest, (wanted, rest)))
        if first is None and wish.f_number is not None:
            change = math.log2((wanted - rest) / light[most]) if wanted > rest else 0.0
            first = most, change if abs(change) > ESTIMATE_STOPS else 0.0, name
    return found


def _said(aim: float, wish: Wish, point: str) -> str:
    lights = "all lights" if wish.light == ALL else wish.light
    words = f"{show_f_number(aim)} at {point} ({lights})"
    low, high = wish.range_stops or (0.0, 0.0)
    return f"{words}, {low:+.1f} to {high:+.1f}," if wish.range_stops else words


def _too_bright(
    context: Context,
    about: str,
    what: str,
    first: tuple[int, float, str],
    light: Floats,
    most: float,
) -> Finding:
    """A place that gets too much of the one light that may not be turned for it."""
    over = math.log2(light[first[0]] / most)
    words = (
        f"{what} is too dark to reach: {context.layout.fronts[first[0]].name}, as {first[2]} needs "
        f"it, alone gives {over:.1f} stops more {ESTIMATED}; balance tries cures."
    )
    verdict: Verdict = "wrong" if over > ESTIMATE_STOPS else "look"
    return Finding("wanted", about, verdict, -over, "stops to spare", 0.0, words)


def _wish(
    context: Context, about: str, what: str, strongest: tuple[int, float], wish: tuple[float, float]
) -> Finding:
    """strongest : index of the light that gives most, and how much it gives [lx·s]
    wish      : what is wanted, and what the other lights give already [lx·s]
    """
    wanted, rest = wish
    front = context.layout.fronts[strongest[0]]
    light = context.setup.scene.light[front.name]
    if rest >= wanted:
        over = math.log2(rest / wanted)
        words = (
            f"{what} is too dark to reach: without {front.name} the other lights still give "
            f"{over:.1f} stops more {ESTIMATED}."
        )
        sure: Verdict = "wrong" if over > ESTIMATE_STOPS else "look"
        return Finding("wanted", about, sure, -over, "stops to spare", 0.0, words)
    change = math.log2((wanted - rest) / strongest[1])
    below = math.log2(light.power)
    up, down = 0.0, 0.0
    if light.flash is not None:
        up, down = -below, context.setup.kit.flash[light.flash].power_range_stops + below
    beyond = max(change - up, -change - down)
    turn = f"{front.name} {abs(change):.1f} stops {'up' if change > 0 else 'down'}"
    if beyond > WITHIN_STOPS:
        end = "full power" if change > 0 else "its least power"
        words = f"{what} needs {turn}, {beyond:.1f} beyond {end} {ESTIMATED}."
        verdict: Verdict = "wrong" if beyond > ESTIMATE_STOPS else "look"
        return Finding("wanted", about, verdict, -beyond, "stops to spare", 0.0, words)
    words = f"{what} needs {turn}, in reach {ESTIMATED}."
    if abs(change) <= ESTIMATE_STOPS:  # less than it can tell, so that it must not name a side
        words = f"{what} is reached as it stands, as far as an estimate tells ({ESTIMATE_STOPS:g} "
        words += "stop); balance measures it."
    return Finding("wanted", about, "fine", -beyond + 0.0, "stops to spare", 0.0, words)
