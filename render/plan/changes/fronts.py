"""What can be put before a light or taken off: grid, neutral sheet, cloth."""

from __future__ import annotations

import math

from render.layout.modifiers import CLOTHED, DISHED, GRIDDED
from render.plan.changes.settings import FRONT, Family, Step, of_light
from render.report.outfits import MOST_CLOTHS
from render.scenefile import Setup
from render.studio.kit import Grid
from render.studio.light import Light

SHEET_DENSITY, MOST_DENSITY = 0.3, 3.0  # neutral sheets come in whole stops; common practice
# Angles of grids that are tried on a light, wide to narrow; fronts without a modifier of the kit
# get the first two as plain angles. Common practice, no source.
FABRIC_DEG, PLAIN_DEG = (40.0, 30.0), (40.0, 30.0)
ANGLE_TOLERANCE_DEG = 2.0  # an angle printed on a grid is no nearer to that of its cells


def grids(setup: Setup, name: str) -> Family:
    """Grids of the kit that a light can wear, narrower than what it wears, from wide to narrow."""
    light = setup.scene.light[name]
    now = _angle_deg(setup, light)
    modifier = setup.kit.modifier.get(light.modifier or "")
    if modifier is None:
        return tuple(
            Step(
                f"grid of {angle:g} degrees on the {name} light",
                FRONT,
                of_light(name, grid_deg=angle, grid=None),
            )
            for angle in PLAIN_DEG
            if now is None or angle < now - ANGLE_TOLERANCE_DEG
        )
    if modifier.kind not in GRIDDED:
        return ()
    cells = "hexagon" if modifier.kind in DISHED else "square"
    fit = sorted(
        ((_closing_deg(grid), each) for each, grid in setup.kit.grid.items()), reverse=True
    )
    return tuple(
        Step(f"grid {each} on the {name} light", FRONT, of_light(name, grid=each, grid_deg=None))
        for angle, each in fit
        if setup.kit.grid[each].cells == cells
        and any(abs(angle - usual) <= ANGLE_TOLERANCE_DEG for usual in FABRIC_DEG)
        and (now is None or angle < now - ANGLE_TOLERANCE_DEG)
    )


def _angle_deg(setup: Setup, light: Light) -> float | None:
    """Angle off the axis at which the cells close that a light wears now."""
    if light.grid is not None and light.grid in setup.kit.grid:
        return _closing_deg(setup.kit.grid[light.grid])
    return light.grid_deg


def _closing_deg(grid: Grid) -> float:
    return math.degrees(math.atan2(grid.cell_cm, grid.depth_cm))


def ungridded(setup: Setup, name: str) -> Step | None:
    """A light without its grid."""
    light = setup.scene.light[name]
    if light.grid is None and light.grid_deg is None:
        return None
    text = f"no grid on the {name} light"
    return Step(text, FRONT, of_light(name, grid=None, grid_deg=None))


def neutral_sheet(setup: Setup, name: str, over: float) -> Step | None:
    """A neutral sheet that takes at least so many stops."""
    more = SHEET_DENSITY * math.ceil(over - 1e-6)
    density = round(setup.scene.light[name].nd + more, 2)
    if density > MOST_DENSITY:
        return None
    text = f"neutral sheet of density {density:g} before the {name} light"
    return Step(text, FRONT, of_light(name, nd=density))


def no_sheet(setup: Setup, name: str) -> Step | None:
    """A light without its neutral sheet."""
    if not setup.scene.light[name].nd:
        return None
    return Step(f"no neutral sheet before the {name} light", FRONT, of_light(name, nd=None))


def cloths(setup: Setup, name: str, more: int) -> Step | None:
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
    return Step(text, FRONT, of_light(name, diffusers=now + more))
