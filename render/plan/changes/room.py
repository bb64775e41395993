"""What can be changed in the room: flags and panels, the gap, the backdrop, black cloth."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import Any, Literal

import numpy as np

from render.layout.lamps import role
from render.layout.walls import USUAL_BACKDROP
from render.photometry.srgb import luminance
from render.plan.changes.settings import (
    DRAPE,
    GAP,
    NEW_PANEL,
    PANEL,
    PAPER,
    Family,
    Setting,
    Step,
    of_light,
    so_many,
)
from render.scenefile import Setup

Side = Literal["white", "black"]

# Beside the sitter, away from the key; sizes and places are common practice, no source.
BESIDE_CM: dict[Side, tuple[int, int]] = {"white": (75, 100), "black": (100, 150)}
BESIDE_M, BESIDE_DEG = 0.75, 80.0
WIDEST_GAP_M, LEAST_GAP_M = 15.0, 0.5  # that a scene file takes; a sitter's own depth
DARKEST_BACKDROP = 0.03
DARK_CLOTH = "black-muslin"  # of the kit
SAME_PAPER = 0.01  # share of its reflectance by which another paper differs at least
BACKGROUND = "background"  # role of the light whose work is the backdrop
SURFACES = {  # keys of the room, and where a cloth hangs
    "ceiling": ("ceiling", "under the ceiling"),
    "floor": ("floor", "on the floor"),
    "camera wall": ("camera_wall", "on the wall behind the camera"),
    "camera-left wall": ("camera_left_wall", "on the camera-left wall"),
    "camera-right wall": ("camera_right_wall", "on the camera-right wall"),
    "back wall": ("back_wall", "on the back wall"),
}


def flag(
    setup: Setup, light: str, point: str, size_cm: tuple[int, int], away_m: float
) -> Step | None:
    """A black panel in the light that one lamp throws on a meter point or landmark."""
    own = setup.scene.point.get(point)
    place = point if own is None or own.landmark is None else own.landmark
    wide, high = size_cm
    guards = {"light": light, "point": place, "distance_m": round(away_m, 2)}
    keys = {"kind": "black", "size_cm": [wide, high], "guards": guards}
    text = (
        f"black flag {wide} x {high} cm, {away_m:.2f} m before the {light} light, between it and "
        f"{point.replace('_', ' ')}"
    )
    return Step(text, PANEL, (_new_panel(setup, f"{light}_flag", keys),))


def beside(setup: Setup, kind: Side, towards: float) -> Step:
    """A panel on the side away from the key; towards : + where that is camera right."""
    wide, high = BESIDE_CM[kind]
    keys = {
        "kind": kind,
        "size_cm": [wide, high],
        "azimuth_deg": math.copysign(BESIDE_DEG, towards),
        "distance_m": BESIDE_M,
    }
    side = "right" if towards > 0 else "left"
    text = f"{kind} panel {wide} x {high} cm, {BESIDE_M:g} m from the eyes, camera {side}"
    return Step(text, PANEL, (_new_panel(setup, f"{kind}_panel", keys),))


def _new_panel(setup: Setup, name: str, keys: dict[str, Any]) -> Setting:
    """A panel under a name that none has."""
    names = [name, *(f"{name}_{k}" for k in range(2, 100))]
    return Setting(NEW_PANEL + next(n for n in names if n not in setup.scene.panel), keys)


def gap(setup: Setup, more_m: float) -> Step | None:
    """The sitter farther from the backdrop, or nearer; a background light stays with the backdrop.

    None where that is not wider than a scene takes or narrower than a sitter.
    """
    backdrop = setup.scene.backdrop
    if backdrop is None:
        return None
    there = round(min(backdrop.gap_m + more_m, WIDEST_GAP_M), 2)
    if there < LEAST_GAP_M or there == backdrop.gap_m:
        return None
    who = "subject" if setup.scene.sitter is None else "sitter"
    text = f"{who} {there:.2f} m from the backdrop instead of {backdrop.gap_m:.2f} m"
    back = there - backdrop.gap_m
    settings = [Setting("backdrop.gap_m", there), *_taken_along(setup, back)]
    return Step(text, GAP, tuple(settings), more_m, 0.0, lambda amount: gap(setup, amount))


def _taken_along(setup: Setup, back_m: float) -> list[Setting]:
    """Background lights that are placed in metres, as far from the backdrop as before."""
    found: list[Setting] = []
    for name, light in setup.scene.light.items():
        if role(name, light) != BACKGROUND or light.position_m is None:
            continue
        places = {"position_m": light.position_m, "aim": light.aim}
        for key, place in places.items():
            if place is not None and not isinstance(place, str):
                x, y, z = place
                found += of_light(name, **{key: [x, y, round(z - back_m, 3)]})
    return found


def backdrop_reflectance(setup: Setup) -> float | None:
    """Luminous reflectance of the backdrop by the scene file; None without a backdrop."""
    backdrop = setup.scene.backdrop
    if backdrop is None:
        return None
    if backdrop.reflectance is not None:
        return backdrop.reflectance
    if isinstance(backdrop.colour, str):
        surface = setup.kit.surface.get(backdrop.colour)
        return None if surface is None else surface.reflectance
    if backdrop.colour is not None:
        return float(luminance(np.array(backdrop.colour)))
    return USUAL_BACKDROP


def other_grey(setup: Setup, points: Collection[str], darker: float) -> Step | None:
    """A backdrop darker by so many stops, of any reflectance; its wishes brighter by as much.

    points : those that lie on the backdrop
    """
    now = backdrop_reflectance(setup)
    if now is None or now * 2.0**-darker < DARKEST_BACKDROP:
        return None
    there = round(now * 2.0**-darker, 3)
    return _hung(
        setup, points, "backdrop of reflectance", now, there, Setting("backdrop.reflectance", there)
    )


def papers(setup: Setup, points: Collection[str], share: float, most: int) -> Family:
    """Grey papers and cloths of the kit that reflect at most (least) so much of the backdrop's.

    share : below 1 for darker ones, the palest first; above 1 for paler ones, the darkest first
    most  : how many; where none is dark (pale) enough, the last that there is
    """
    now, backdrop = backdrop_reflectance(setup), setup.scene.backdrop
    if now is None or backdrop is None:
        return ()
    kinds = ("paint", "cloth") if backdrop.kind == "wall" else ("paper", "cloth")
    greys = {
        name: surface.reflectance
        for name, surface in setup.kit.surface.items()
        if surface.kind in kinds and surface.colour is None
    }
    if share < 1:
        fit = sorted(
            (n for n in greys if greys[n] < now * (1 - SAME_PAPER)), key=lambda n: -greys[n]
        )
        enough = [name for name in fit if greys[name] <= now * share]
    else:
        fit = sorted(
            (n for n in greys if greys[n] > now * (1 + SAME_PAPER)), key=lambda n: greys[n]
        )
        enough = [name for name in fit if greys[name] >= now * share]
    return tuple(
        _hung(
            setup,
            points,
            f"{name.replace('-', ' ')}, reflectance",
            now,
            greys[name],
            Setting("backdrop.colour", name),
            Setting("backdrop.reflectance", None),
        )
        for name in enough[:most] or fit[-1:]
    )


def _hung(
    setup: Setup, points: Collection[str], name: str, now: float, there: float, *settings: Setting
) -> Step:
    """Another backdrop; of readings on it that are wanted in stops, the same tone is wanted."""
    more = math.log2(now / there)
    wishes = [
        Setting(f"wanted.{each}.stops", round(wish.stops + more, 2))
        for each, wish in setup.scene.wanted.items()
        if wish.point in points and wish.stops is not None
    ]
    text = f"{name} {there:.2g} instead of {now:.2g}"
    if wishes:
        way = "more" if more > 0 else "less"
        text += f": the same tone with {so_many(more)} {way} on it"
    return Step(text, PAPER, (*settings, *wishes))


def draped(setup: Setup, surfaces: Sequence[str]) -> Step | None:
    """Black cloth over walls, floor or ceiling, by their names as bounce comes from them."""
    if setup.scene.room is None or not surfaces or not set(surfaces) <= set(SURFACES):
        return None
    places = " and ".join(SURFACES[name][1] for name in surfaces)
    settings = tuple(Setting(f"room.{SURFACES[name][0]}", DARK_CLOTH) for name in surfaces)
    return Step(f"black cloth {places}", DRAPE * len(surfaces), settings)
