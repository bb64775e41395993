"""Set-ups with one thing moved or put up: a light's aim, a panel, the backdrop, black cloth."""

from __future__ import annotations

import math
from typing import Literal

from render.layout.walls import USUAL_BACKDROP
from render.plan.balance.changes import Change, with_light, with_scene
from render.scenefile import Setup
from render.studio.room import Guard, Panel

FLAG_CM, FLAG_FROM_LIGHT_M = (60.0, 90.0), 0.35
BLACK = 0.04  # black drape; scenes/kit has velvet below and cotton above
DARKEST_BACKDROP = 0.03
# Beside the sitter, away from the key; sizes and places are common practice, no source.
BESIDE_CM, BESIDE_M, BESIDE_DEG = {"white": (75.0, 100.0), "black": (100.0, 150.0)}, 0.75, 80.0
ROUND_DEG, FARTHEST_ROUND_DEG = 15.0, 110.0  # a light moved round the sitter
WIDEST_GAP_M = 15.0  # that a scene file takes
# In front of the face, where a light is aimed to feather it; common practice, no source.
AHEAD_M, FARTHEST_AHEAD_M = 0.4, 1.0


def feathered(setup: Setup, name: str, ahead_m: float = AHEAD_M) -> Change | None:
    """A light aimed a little in front of the face, so that only its edge lights it."""
    sitter = setup.scene.sitter
    if sitter is None:
        return None
    there = round(min(ahead_m, FARTHEST_AHEAD_M), 2)
    text = f"{name} light aimed {there:.2f} m in front of the face"
    changed = with_light(setup, name, aim=(0.0, sitter.eyes_height_m, there))
    if setup.scene.light[name].aim is not None:
        return Change(text, changed)
    return Change(text, changed, there, 0.0, lambda amount: feathered(setup, name, amount))


def aimed_back(setup: Setup, name: str) -> Change | None:
    """A light aimed at what it stands around, where it is aimed elsewhere."""
    light = setup.scene.light[name]
    if light.aim is None:
        return None
    return Change(f"{name} light aimed at the {light.around}", with_light(setup, name, aim=None))


def flag(setup: Setup, name: str, point: str) -> Change:
    """A black panel in the light that one lamp throws on a point."""
    guard = Guard(light=name, point=point, distance_m=FLAG_FROM_LIGHT_M)
    panel = Panel(kind="black", size_cm=FLAG_CM, guards=guard)
    wide, high = FLAG_CM
    text = (
        f"black panel {wide:g} x {high:g} cm, {FLAG_FROM_LIGHT_M:g} m before the {name} light, "
        f"between it and {point.replace('_', ' ')}"
    )
    return Change(text, with_scene(setup, panel={**setup.scene.panel, _free(setup): panel}))


def beside(setup: Setup, kind: Literal["white", "black"], towards: float) -> Change:
    """A panel on the side away from the key; towards : + where that is camera right."""
    panel = Panel(
        kind=kind,
        size_cm=BESIDE_CM[kind],
        azimuth_deg=math.copysign(BESIDE_DEG, towards),
        distance_m=BESIDE_M,
    )
    side = "right" if towards > 0 else "left"
    wide, high = BESIDE_CM[kind]
    text = f"{kind} panel {wide:g} x {high:g} cm, {BESIDE_M:g} m from the eyes, camera {side}"
    return Change(text, with_scene(setup, panel={**setup.scene.panel, _free(setup): panel}))


def moved_round(setup: Setup, name: str, more_deg: float) -> Change | None:
    """A light farther round the sitter, or back towards the camera where negative."""
    now = setup.scene.light[name].azimuth_deg
    if now is None:
        return None
    there = round(min(max(abs(now) + more_deg, 0.0), FARTHEST_ROUND_DEG))
    if there == round(abs(now)):
        return None
    azimuth = math.copysign(there, now)
    text = f"{name} light at {azimuth:g} degrees from the camera instead of {now:g}"
    return Change(
        text,
        with_light(setup, name, azimuth_deg=azimuth),
        there - abs(now),
        0.0,
        lambda amount: moved_round(setup, name, amount),
    )


def _free(setup: Setup) -> str:
    """A name that no panel has."""
    return "cure" + "-more" * sum(name.startswith("cure") for name in setup.scene.panel)


def gap(setup: Setup, more_m: float) -> Change | None:
    """The sitter farther from the backdrop."""
    backdrop = setup.scene.backdrop
    if backdrop is None:
        return None
    there = round(min(backdrop.gap_m + more_m, WIDEST_GAP_M), 2)
    text = f"sitter {there:.2f} m from the backdrop instead of {backdrop.gap_m:.2f} m"
    changed = backdrop.model_copy(update={"gap_m": there})
    scene = with_scene(setup, backdrop=changed)
    return Change(text, scene, more_m, 0.0, lambda amount: gap(setup, amount))


def darker_backdrop(setup: Setup, point: str, over: float) -> Change | None:
    """A darker backdrop, and readings on it wanted brighter by as much: the same tone."""
    backdrop = setup.scene.backdrop
    if backdrop is None or (backdrop.reflectance is None and backdrop.colour is not None):
        return None
    now = USUAL_BACKDROP if backdrop.reflectance is None else backdrop.reflectance
    dark = round(now * 2.0**-over, 3)
    if dark < DARKEST_BACKDROP:
        return None
    wanted = dict(setup.scene.wanted)
    for name, wish in wanted.items():
        if wish.point == point and wish.stops is not None:
            more = {"stops": wish.stops + math.log2(now / dark)}
            wanted[name] = wish.model_copy(update=more)
    text = (
        f"backdrop of reflectance {dark:.2g} instead of {now:.2g}: the same tone with "
        f"{math.log2(now / dark):.1f} stops more on it"
    )
    changed = backdrop.model_copy(update={"reflectance": dark})
    return Change(text, with_scene(setup, backdrop=changed, wanted=wanted))


def draped(setup: Setup, surface: str) -> Change | None:
    """Black cloth over one wall, the floor or the ceiling."""
    room = setup.scene.room
    key = surface.replace(" ", "_").replace("-", "_")
    if room is None or key not in type(room).model_fields or key == "walls":
        return None
    text = f"black cloth over the {surface}"
    return Change(text, with_scene(setup, room=room.model_copy(update={key: BLACK})))
