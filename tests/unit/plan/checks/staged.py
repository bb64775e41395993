"""A sitter who faces the camera in the light of a few fronts, for the tests of the checks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.emission import Front
from render.layout.geometry import direction, turn
from render.layout.lens import view
from render.layout.people import in_room
from render.layout.placed import Layout, Sheet, View
from render.plan.checks.finding import Context
from render.scenefile import load_scene
from render.studio.camera import Camera
from tests import sets
from tests.people import small

EYES = np.array([0.0, 1.2, 0.0])
CAMERA = Camera(distance_m=1.7, height_m=1.2, aim_height_m=1.2, focal_length_mm=100, crop="4:5")
LENS = view(CAMERA, EYES, EYES)
HALF_W = 0.5 * LENS.frame_width_m / LENS.image_m  # slopes of the frame's edges
HALF_H = 0.5 * LENS.frame_height_m / LENS.image_m


def lamp(azimuth_deg: float, elevation_deg: float, distance_m: float = 1.0, **changed) -> Front:
    """A soft box of 0.6 x 0.9 m that looks at the eyes."""
    centre = EYES + distance_m * direction(azimuth_deg, elevation_deg)
    return sets.front(EYES - centre, centre, **changed)


def seen_by(
    lens: View,
    *fronts: Front,
    glasses: str = "none",
    seated: bool = True,
    sheets: tuple[Sheet, ...] = (),
) -> Context:
    """A sitter who faces the camera at x = z = 0, in the light of some fronts."""
    setup = load_scene("violin-two-lights")
    sitter = setup.scene.sitter.model_copy(update={"turn_deg": 0, "head_turn_deg": 0})
    context = Context(replace(setup, scene=setup.scene.model_copy(update={"sitter": sitter})))
    body = in_room(small("alma", glasses=glasses), turn(0), EYES) if seated else None
    context.__dict__["layout"] = Layout(fronts, sheets, body, lens, (), 0)
    return context
