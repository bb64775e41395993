"""What could be changed in a room so that less light falls on the backdrop, from little to much."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from render.layout.lamps import role
from render.photometry.srgb import luminance
from render.plan.who.settings import Setting, Step, together
from render.plan.who.taken import Taken
from render.scenefile import Setup
from render.studio.light import Light

Floats = NDArray[np.float64]
Family = tuple[Step, ...]  # the same thing done more and more; the first that is enough is taken

# How much work a change is and how much else of the picture it moves; common practice, no source.
POWER, AIM, GRID, FLAG, NEARER, GAP, PAPER, CLOTH = 1, 2, 3, 4, 5, 6, 7, 8
GRIDS_DEG = (40.0, 30.0)
NEARER_SHARES = (0.85, 0.7)  # of the key's distance
FURTHER_M = (0.25, 0.5, 1.0)  # added to the gap
# Width and height [cm], and share of the way from the light to the backdrop, small to large.
FLAGS = ((45, 90, 0.2), (45, 90, 0.35), (60, 90, 0.35), (90, 120, 0.35))
BACKGROUND = "background"  # role of the light whose work is the backdrop
MIDDLE = "backdrop_centre"  # landmark that flags keep light from; moves with the backdrop
DARK_CLOTH = "black-muslin"
PAPERS_TRIED = 2
TOLD_SHARE = 0.05  # of the backdrop's light; a part below it is not worth a change
WALLS = {
    "ceiling": ("ceiling", "under the ceiling"),
    "floor": ("floor", "on the floor"),
    "camera wall": ("camera_wall", "on the wall behind the camera"),
    "camera-left wall": ("camera_left_wall", "on the camera-left wall"),
    "camera-right wall": ("camera_right_wall", "on the camera-right wall"),
    "back wall": ("back_wall", "on the back wall"),
}


def families(taken: Taken, rows: list[int], wanted: float, now: float) -> tuple[Family, ...]:
    """Changes that may darken the backdrop.

    rows        : receptors of the run that lie on it
    wanted, now : linear luminance that it is to have, and has at its lightest
    """
    straight = taken.measured.direct[rows].mean(0)
    light = straight + taken.measured.bounce[rows].mean(0)
    share = light / light.sum() if light.sum() > 0 else light
    names = [front.name for front in taken.layout.fronts]
    key = names[taken.layout.key]
    lights, setup = taken.setup.scene.light, taken.setup
    spilling = {n: s for n, s in zip(names, share, strict=True) if role(n, lights[n]) != BACKGROUND}
    worst = max(spilling, key=lambda name: spilling[name], default="")
    found: list[Family] = []
    for name, part in zip(names, share, strict=True):
        if role(name, lights[name]) == BACKGROUND and part > TOLD_SHARE:
            found.append(_turned_down(setup, name, float(part), wanted / now))
    if worst and lights[worst].aim is not None:
        around = lights[worst].around.replace("_", " ")
        found.append((Step(f"{worst} aimed at the {around}", AIM, (_set(worst, "aim", None),)),))
    found += [_grids(worst, lights[worst])] if worst else []
    for name, part in zip(names, straight / max(float(light.sum()), 1e-30), strict=True):
        if part > TOLD_SHARE and role(name, lights[name]) != BACKGROUND:
            found.append(_flags(taken, name, rows))
    found += [_nearer(key, lights[key]), _further(setup), _papers(taken, wanted / now)]
    found.append(_cloths(taken, rows))
    return tuple(family for family in found if family)


def _turned_down(setup: Setup, name: str, share: float, wanted: float) -> Family:
    """A background light at the power that is enough, or at its least."""
    light = setup.scene.light[name]
    if light.flash is None or light.fixed:
        return ()
    flash = setup.kit.flash[light.flash]
    least = 2.0**-flash.power_range_stops
    gain = max((wanted - (1 - share)) / share, 0.0)
    step = flash.power_step_stops or 0.1
    below = math.floor(math.log2(max(gain * light.power, least)) / step + 1e-9) * step
    power = max(2.0**below, least)
    if power >= light.power:
        return ()
    stops = math.log2(light.power / power)
    return (Step(f"{name} {stops:.1f} stops down", POWER, (_set(name, "power", power),)),)


def _set(light: str, key: str, value: object) -> Setting:
    return Setting(f"light.{light}.{key}", value)


def _grids(name: str, light: Light) -> Family:
    if light.grid is not None:
        return ()
    return tuple(
        Step(f"{angle:.0f}° grid on {name}", GRID, (_set(name, "grid_deg", angle),))
        for angle in GRIDS_DEG
        if light.grid_deg is None or angle < light.grid_deg
    )


def _flags(taken: Taken, name: str, rows: list[int]) -> Family:
    """Black flags between a light and the middle of the backdrop, from small to large."""
    points = [taken.layout.points[taken.held[row].point].position_m for row in rows]
    target = np.mean(points, axis=0)  # near the middle; only its distance counts
    front = next(front for front in taken.layout.fronts if front.name == name)
    length = float(np.linalg.norm(target - front.centre_m))
    new = next(n for n in _names() if n not in taken.setup.scene.panel)
    found = []
    for wide, high, share in FLAGS:
        away = round(share * length, 2)
        guards = {"light": name, "point": MIDDLE, "distance_m": away}
        panel = {"kind": "black", "size_cm": [wide, high], "guards": guards}
        said = f"black flag {wide} x {high} cm, {away:.2f} m from {name}"
        found.append(Step(said, FLAG, (Setting(f"panel.{new}", panel),)))
    return tuple(found)


def _names() -> list[str]:
    return ["flag", *(f"flag_{k}" for k in range(2, 100))]


def _nearer(key: str, light: Light) -> Family:
    if light.distance_m is None:
        return ()
    places = [round(share * light.distance_m, 2) for share in NEARER_SHARES]
    return tuple(
        Step(f"{key} at {place:.2f} m", NEARER, (_set(key, "distance_m", place),))
        for place in places
    )


def _further(setup: Setup) -> Family:
    backdrop = setup.scene.backdrop
    if backdrop is None:
        return ()
    gaps = [round(backdrop.gap_m + more, 2) for more in FURTHER_M]
    return tuple(Step(f"gap of {g:.2f} m", GAP, (Setting("backdrop.gap_m", g),)) for g in gaps)


def _papers(taken: Taken, wanted: float) -> Family:
    """Grey papers and cloths of the kit: the palest that should do and the next, or the darkest."""
    sheet = next(each for each in taken.layout.sheets if each.kind == "backdrop")
    now = float(luminance(np.array(sheet.reflectance)))
    backdrop, kit = taken.setup.scene.backdrop, taken.setup.kit.surface
    wall = backdrop is not None and backdrop.kind == "wall"
    kinds = ("paint", "cloth") if wall else ("paper", "cloth")
    darker = sorted(
        (
            (surface.reflectance, name)
            for name, surface in kit.items()
            if surface.kind in kinds and surface.colour is None and surface.reflectance < now * 0.99
        ),
        reverse=True,
    )
    enough = [each for each in darker if each[0] <= now * wanted][:PAPERS_TRIED]
    return tuple(
        Step(
            name.replace("-", " "),
            PAPER,
            (Setting("backdrop.colour", name), Setting("backdrop.reflectance", None)),
        )
        for _, name in (enough or darker[-1:])
    )


def _cloths(taken: Taken, rows: list[int]) -> Family:
    """Black cloth over the surface of the room that gives the backdrop most, then over two."""
    room = taken.setup.scene.room
    if room is None or DARK_CLOTH not in taken.setup.kit.surface:
        return ()
    light = taken.measured.by_surface[rows].sum((0, 1))
    total = float((taken.measured.direct + taken.measured.bounce)[rows].sum())
    given = sorted(zip(light, taken.measured.surfaces, strict=True), reverse=True)
    walls = [name for part, name in given if name in WALLS and part > TOLD_SHARE * total]
    changes = [
        Step(
            f"black cloth {WALLS[name][1]}", CLOTH, (Setting(f"room.{WALLS[name][0]}", DARK_CLOTH),)
        )
        for name in walls[:2]
    ]
    if len(changes) < 2:
        return tuple(changes)
    over_two = together(changes)
    said = f"{changes[0].name} and {WALLS[walls[1]][1]}"
    return changes[0], replace(over_two, name=said)
