"""Set-ups with one thing changed on a light or the camera: sheet, cloth, grid, distance, head."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from render.layout.modifiers import CLOTHED, DISHED, GRIDDED
from render.photometry.stops import show_f_number
from render.report.outfits import MOST_CLOTHS
from render.scenefile import Setup
from render.studio.light import Light

# ISO speeds of cameras in third stops, 50 to 3200; ISO 12232 rounding, common practice.
SPEEDS = (
    *(50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800),
    *(1000, 1250, 1600, 2000, 2500, 3200),
)
NARROWEST_F_NUMBER, WIDEST_F_NUMBER = 16.0, 2.8  # of portrait lenses; common practice, no source
SHEET_DENSITY, MOST_DENSITY = 0.3, 3.0  # neutral sheets come in whole stops; common practice
NEAREST_M, FARTHEST_M = 0.4, 3.0  # of a light from the sitter in a small room; from memory
TAPE_M = 0.01  # distances are told to this
MARGIN_STOPS = 0.1  # more than what is missing, so that clicks and bounce do not undo it
GRIDS = {True: "fabric-40", False: "honeycomb-30"}  # of the kit, for cloth and for metal
PLAIN_GRID_DEG = 40.0


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that can be done, in words, and the set-up after it."""

    text: str
    setup: Setup
    amount: float = 0.0  # of what can be had in any amount
    begin: float = 0.0  # amount that leaves the set-up as it is
    again: Callable[[float], Change | None] | None = None  # the same with another amount


def with_scene(setup: Setup, **changed: Any) -> Setup:
    """The set-up with other parts of its scene."""
    return replace(setup, scene=setup.scene.model_copy(update=changed))


def with_light(setup: Setup, name: str, **changed: Any) -> Setup:
    """The set-up with one light changed."""
    light = setup.scene.light[name].model_copy(update=changed)
    return with_scene(setup, light={**setup.scene.light, name: light})


def other_speed(setup: Setup, more: float) -> Change | None:
    """A camera (and meter) so many stops faster, or slower where negative."""
    scene = setup.scene
    camera, meter = scene.camera, scene.meter
    now = meter.iso_speed or (camera.iso_speed if camera is not None else 100.0)
    wanted = now * 2.0 ** (more + math.copysign(MARGIN_STOPS, more))
    if more > 0:
        speed = next((each for each in SPEEDS if each >= wanted), None)
    else:
        speed = next((each for each in reversed(SPEEDS) if each <= wanted), None)
    if speed is None:
        return None
    changed: dict[str, Any] = {}
    if camera is not None:
        changed["camera"] = camera.model_copy(update={"iso_speed": float(speed)})
    if meter.iso_speed is not None or camera is None:
        changed["meter"] = meter.model_copy(update={"iso_speed": float(speed)})
    return Change(f"ISO {speed} instead of {now:g}", with_scene(setup, **changed))


def other_aperture(setup: Setup, more: float) -> Change | None:
    """The lens so many stops wider open, or closed where negative, and the wishes with it."""
    thirds = math.copysign(math.ceil(3 * (abs(more) + MARGIN_STOPS)), more)
    factor = 2.0 ** (-thirds / 6)
    wanted = {
        name: wish
        if wish.f_number is None
        else wish.model_copy(update={"f_number": wish.f_number * factor})
        for name, wish in setup.scene.wanted.items()
    }
    numbers = [wish.f_number for wish in wanted.values() if wish.f_number is not None]
    if not all(WIDEST_F_NUMBER <= number <= NARROWEST_F_NUMBER for number in numbers):
        return None
    camera = setup.scene.camera
    changed: dict[str, Any] = {"wanted": wanted}
    if camera is not None:
        changed["camera"] = camera.model_copy(update={"f_number": camera.f_number * factor})
    name = next(name for name, wish in wanted.items() if wish.f_number is not None)
    text = f"{show_f_number(numbers[0])} on the camera, and wanted for {name}"
    return Change(text, with_scene(setup, **changed))


def neutral_sheet(setup: Setup, name: str, over: float) -> Change | None:
    """A neutral sheet that takes at least so many stops."""
    more = SHEET_DENSITY * math.ceil(over - 1e-6)
    density = round(setup.scene.light[name].nd + more, 2)
    if density > MOST_DENSITY:
        return None
    text = f"neutral sheet of density {density:g} before the {name} light"
    return Change(text, with_light(setup, name, nd=density))


def cloths(setup: Setup, name: str, more: int) -> Change | None:
    """One cloth more or fewer on a light."""
    light = setup.scene.light[name]
    modifier = setup.kit.modifier.get(light.modifier or "")
    if modifier is None or modifier.kind not in (*CLOTHED, *DISHED):
        return None
    now = modifier.diffusers if light.diffusers is None else light.diffusers
    if not 0 <= now + more <= MOST_CLOTHS:
        return None
    words = "another cloth on" if more > 0 else "a cloth less on"
    text = f"{words} the {name} light ({now + more} instead of {now})"
    return Change(text, with_light(setup, name, diffusers=now + more))


def distance(setup: Setup, name: str, factor: float) -> Change | None:
    """A light nearer to what it is aimed around, or farther."""
    now = setup.scene.light[name].distance_m
    if now is None:
        return None
    tape = math.floor if factor < 1 else math.ceil
    there = round(TAPE_M * tape(now * factor / TAPE_M), 2)
    if not NEAREST_M <= there <= FARTHEST_M or there == now:
        return None
    way = "nearer" if there < now else "farther"
    text = f"{name} light {way}, {there:.2f} m instead of {now:.2f} m"
    return Change(
        text,
        with_light(setup, name, distance_m=there),
        math.log2(factor),
        0.0,
        lambda amount: distance(setup, name, max(2.0**amount, NEAREST_M / now)),
    )


def gridded(setup: Setup, name: str) -> Change | None:
    """A grid on a light that has none."""
    light = setup.scene.light[name]
    if light.grid is not None or light.grid_deg is not None:
        return None
    modifier = setup.kit.modifier.get(light.modifier or "")
    if modifier is None:
        return Change(
            f"grid of {PLAIN_GRID_DEG:g} degrees on the {name} light",
            with_light(setup, name, grid_deg=PLAIN_GRID_DEG),
        )
    grid = GRIDS[modifier.kind not in DISHED]
    if modifier.kind not in GRIDDED or grid not in setup.kit.grid:
        return None
    return Change(f"grid {grid} on the {name} light", with_light(setup, name, grid=grid))


def ungridded(setup: Setup, name: str) -> Change | None:
    """A light without its grid."""
    light = setup.scene.light[name]
    if light.grid is None and light.grid_deg is None:
        return None
    return Change(f"no grid on the {name} light", with_light(setup, name, grid=None, grid_deg=None))


def other_head(setup: Setup, name: str, more: float) -> Change | None:
    """The next head of the kit that gives so many stops more, or less where negative."""
    light: Light = setup.scene.light[name]
    heads = {
        each: head.stored_energy_ws * head.efficacy_lm_per_ws
        for each, head in setup.kit.flash.items()
    }
    # Of a weaker head, what counts is its least power.
    if more < 0:
        heads = {e: q * 2.0 ** -setup.kit.flash[e].power_range_stops for e, q in heads.items()}
    wanted = heads[str(light.flash)] * 2.0**more
    fit = [each for each, q in heads.items() if (q >= wanted if more > 0 else q <= wanted)]
    if not fit:
        return None
    best = min(fit, key=lambda each: abs(math.log(heads[each] / wanted)))
    power = max(light.power, 2.0 ** -setup.kit.flash[best].power_range_stops)
    text = f"{best} instead of {light.flash} as the {name} light"
    return Change(text, with_light(setup, name, flash=best, power=power))


def switched_off(setup: Setup, name: str) -> Change | None:
    """A light off, unless a wish names it."""
    if any(wish.light == name for wish in setup.scene.wanted.values()):
        return None
    if sum(light.on for light in setup.scene.light.values()) < 2:
        return None
    return Change(f"{name} light off", with_light(setup, name, on=False))
