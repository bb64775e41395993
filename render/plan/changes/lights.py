"""What can be changed on a light: its dial, its aim, where it stands, which head it is."""

from __future__ import annotations

import math

from render.plan.balance.dials import click, marking
from render.plan.changes.settings import AIM, DIAL, HEAD, MOVE, Step, of_light, so_many
from render.scenefile import Setup

NEAREST_M, FARTHEST_M = 0.4, 3.0  # of a light from the sitter in a small room; from memory
TAPE_M = 0.01  # distances are told to this
ROUND_DEG, FARTHEST_ROUND_DEG = 15.0, 110.0  # a light moved round the sitter
# In front of the face, where a light is aimed to feather it; common practice, no source.
AHEAD_M, FARTHEST_AHEAD_M = 0.4, 1.0
SLIDER_STOPS = 0.1  # a slider is set to this
WHOLE_CLICK = 1e-6  # a dial that is this near a click stands on it


def turned(setup: Setup, name: str, more: float) -> Step | None:
    """A head so many stops up, or down where negative, to the next click, as far as it goes."""
    light = setup.scene.light[name]
    if light.flash is None or light.fixed or not light.on:
        return None
    flash, now = setup.kit.flash[light.flash], math.log2(light.power)
    step = click(flash.power_step_stops)
    fine = step or SLIDER_STOPS
    least = -fine * math.floor(flash.power_range_stops / fine + WHOLE_CLICK)
    clicks = (now + more) / fine
    whole = math.ceil(clicks - WHOLE_CLICK) if more > 0 else math.floor(clicks + WHOLE_CLICK)
    there = min(max(whole * fine, least), 0.0)
    moved = there - now
    if moved * more <= WHOLE_CLICK:
        return None
    way, shown = "up" if more > 0 else "down", marking(there, step)
    return Step(
        f"{name} light {so_many(moved)} {way}, to {shown}", DIAL, of_light(name, power=shown)
    )


def switched_off(setup: Setup, name: str) -> Step | None:
    """A light off, unless a wish names it."""
    if any(wish.light == name for wish in setup.scene.wanted.values()):
        return None
    if sum(light.on for light in setup.scene.light.values()) < 2:
        return None
    return Step(f"{name} light off", DIAL, of_light(name, on=False))


def switched_on(setup: Setup, name: str) -> Step | None:
    """A light that stands there unfired, fired."""
    if setup.scene.light[name].on:
        return None
    return Step(f"{name} light on", DIAL, of_light(name, on=None))


def other_head(setup: Setup, name: str, more: float) -> Step | None:
    """The next head of the kit that gives so many stops more, or less where negative."""
    light = setup.scene.light[name]
    if light.flash is None:
        return None
    heads = {
        each: head.stored_energy_ws * head.efficacy_lm_per_ws
        for each, head in setup.kit.flash.items()
    }
    # Of a weaker head, what counts is its least power.
    if more < 0:
        heads = {e: q * 2.0 ** -setup.kit.flash[e].power_range_stops for e, q in heads.items()}
    wanted = heads[light.flash] * 2.0**more
    fit = [each for each, q in heads.items() if (q >= wanted if more > 0 else q <= wanted)]
    if not fit:
        return None
    best = min(fit, key=lambda each: abs(math.log(heads[each] / wanted)))
    flash = setup.kit.flash[best]
    below = max(math.log2(light.power), -flash.power_range_stops)
    power = marking(below, click(flash.power_step_stops))
    text = f"{best} instead of {light.flash} as the {name} light"
    return Step(text, HEAD, of_light(name, flash=best, power=power))


def aimed_back(setup: Setup, name: str) -> Step | None:
    """A light aimed at what it stands around, where it is aimed elsewhere."""
    light = setup.scene.light[name]
    if light.aim is None:
        return None
    text = f"{name} light aimed at the {light.around.replace('_', ' ')}"
    return Step(text, AIM, of_light(name, aim=None))


def feathered(setup: Setup, name: str, ahead_m: float = AHEAD_M) -> Step | None:
    """A light aimed a little in front of the face, so that only its edge lights it."""
    sitter, light = setup.scene.sitter, setup.scene.light[name]
    if sitter is None:
        return None
    there = round(min(ahead_m, FARTHEST_AHEAD_M), 2)
    text = f"{name} light aimed {there:.2f} m in front of the face"
    settings = of_light(name, aim=[0.0, sitter.eyes_height_m, there])
    if light.aim is not None:
        return Step(text, AIM, settings)
    return Step(text, AIM, settings, there, 0.0, lambda amount: feathered(setup, name, amount))


def distance(setup: Setup, name: str, factor: float) -> Step | None:
    """A light nearer to what it stands around, or farther, by a factor."""
    now = setup.scene.light[name].distance_m
    if now is None:
        return None
    tape = math.floor if factor < 1 else math.ceil
    there = round(TAPE_M * tape(now * factor / TAPE_M), 2)
    if not NEAREST_M <= there <= FARTHEST_M or there == now:
        return None
    way = "nearer" if there < now else "farther"
    text = f"{name} light {way}, {there:.2f} m instead of {now:.2f} m"
    return Step(
        text,
        MOVE,
        of_light(name, distance_m=there),
        math.log2(factor),
        0.0,
        lambda amount: distance(setup, name, max(2.0**amount, NEAREST_M / now)),
    )


def moved_round(setup: Setup, name: str, more_deg: float) -> Step | None:
    """A light farther round the sitter, or back towards the camera where negative."""
    now = setup.scene.light[name].azimuth_deg
    if now is None:
        return None
    there = round(min(max(abs(now) + more_deg, 0.0), FARTHEST_ROUND_DEG))
    if there == round(abs(now)):
        return None
    azimuth = math.copysign(there, now)
    text = f"{name} light at {azimuth:g} degrees from the camera instead of {now:g}"
    return Step(
        text,
        MOVE,
        of_light(name, azimuth_deg=azimuth),
        there - abs(now),
        0.0,
        lambda amount: moved_round(setup, name, amount),
    )
