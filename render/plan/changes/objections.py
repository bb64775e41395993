"""Why a light or panel cannot stand where it was tried: the frame, a wall, the ceiling."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from render.layout import Layout
from render.layout.walls import room_box
from render.plan.changes.settings import NEW_PANEL, Setting
from render.plan.checks.fit import HANDLING_M
from render.plan.checks.frustum import Frustum, clearance, clipped
from render.plan.checks.in_frame import SPARE_M, solid_things
from render.plan.checks.rig import rigs
from render.scenefile import Setup

FACES = (
    ("camera-left wall", "floor", "back wall"),
    ("camera-right wall", "ceiling", "camera wall"),
)
MOVES = (".distance_m", ".azimuth_deg", ".elevation_deg", ".aim")  # ends of keys that move a light
WORSE_M = 1e-3  # than at present: less than a millimetre is rounding


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is too near a light."""

    short_m: float  # of the room that it should have
    words: str


def objections(
    setup: Setup,
    layout: Layout,
    lights: Collection[str],
    present: Mapping[str, Fault] | None = None,
) -> dict[str, Fault]:
    """What is wrong with where some lights stand, by a short name of each fault.

    present : faults of the set-up as it is, which are taken as they are, but not made worse
    """
    faults = _frame(layout, [f"light.{name}" for name in lights]) | _room(setup, layout, lights)
    return {
        name: fault
        for name, fault in faults.items()
        if not present or name not in present or fault.short_m > present[name].short_m + WORSE_M
    }


def in_the_way_after(
    before: tuple[Setup, Layout], after: tuple[Setup, Layout], settings: Iterable[Setting]
) -> tuple[Fault, ...]:
    """What keeps a change from being made: a light that it moves, or its panel, has no room.

    before, after : the set-up without and with the change, as placed
    settings      : the change
    """
    keys = [setting.key for setting in settings]
    lights = {key.split(".")[1] for key in keys if key.startswith("light.") and key.endswith(MOVES)}
    faults = list(objections(*after, lights, objections(*before, lights)).values())
    panels = [key for key in keys if key.startswith(NEW_PANEL)]
    return (*faults, *_frame(after[1], panels, spare_m=0.0).values())  # set by eye in the finder


def _frame(layout: Layout, things: Collection[str], spare_m: float = SPARE_M) -> dict[str, Fault]:
    """Lights and panels, by the keys of the scene file, in the frame or too near it."""
    if layout.view is None:
        return {}
    frustum, solids = Frustum.of(layout.view), solid_things(layout)
    found: dict[str, Fault] = {}
    for thing in things:
        kind, name = thing.split(".")[:2]
        said = f"the {name} {'light' if kind == 'light' else 'panel'} would be"
        mesh = solids[thing]
        if clipped(frustum, mesh):
            found[f"{name} frame"] = Fault(spare_m, f"{said} in the frame")
        elif (gap := clearance(frustum, mesh).distance_m) < spare_m:
            words = f"{said} {100 * gap:.0f} cm from the frame"
            found[f"{name} frame"] = Fault(spare_m - gap, words)
    return found


def _room(setup: Setup, layout: Layout, lights: Collection[str]) -> dict[str, Fault]:
    if setup.scene.room is None:
        return {}
    box = room_box(setup.scene.room, setup.scene.backdrop)
    found: dict[str, Fault] = {}
    for rig in rigs(setup, layout):
        if rig.light not in lights:
            continue
        gaps = (rig.surface_m.min(0) - box[0], box[1] - rig.surface_m.max(0))
        for names, each in zip(FACES, gaps, strict=True):
            for face, gap in zip(names, each, strict=True):
                if gap < HANDLING_M:
                    way = "into" if gap < 0 else "from"
                    words = (
                        f"the {rig.light} light would be {100 * abs(gap):.0f} cm {way} the {face}"
                    )
                    found[f"{rig.light} {face}"] = Fault(HANDLING_M - float(gap), words)
    return found
