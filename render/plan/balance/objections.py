"""Why a light cannot stand where it was tried: in the frame, or through a wall or the ceiling."""

from __future__ import annotations

from collections.abc import Collection

from render.layout import Layout
from render.layout.walls import room_box
from render.plan.checks.frustum import Frustum, clipped
from render.plan.checks.in_frame import solid_things
from render.plan.checks.rig import rigs
from render.scenefile import Setup

FACES = (
    ("camera-left wall", "floor", "back wall"),
    ("camera-right wall", "ceiling", "camera wall"),
)
THROUGH_M = 1e-3  # less than a millimetre is rounding


def objections(setup: Setup, layout: Layout, lights: Collection[str]) -> dict[str, str]:
    """What is wrong with where some lights stand: a short name of each fault, then its words."""
    found = {}
    if layout.view is not None:
        frustum, solids = Frustum.of(layout.view), solid_things(layout)
        for name in lights:
            if clipped(frustum, solids[f"light.{name}"]):
                found[f"{name} frame"] = f"the {name} light would be in the frame"
    if setup.scene.room is None:
        return found
    box = room_box(setup.scene.room, setup.scene.backdrop)
    for rig in rigs(setup, layout):
        if rig.light not in lights:
            continue
        over = (box[0] - rig.surface_m.min(0), rig.surface_m.max(0) - box[1])
        for names, through in zip(FACES, over, strict=True):
            for face, metres in zip(names, through, strict=True):
                if metres > THROUGH_M:
                    words = f"the {rig.light} light would be {100 * metres:.0f} cm into the {face}"
                    found[f"{rig.light} {face}"] = words
    return found
