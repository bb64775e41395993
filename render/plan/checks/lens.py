"""The checks of lens, eyes and light, in the order in which they are done."""

from __future__ import annotations

from render.plan.checks.backdrop_edges import backdrop_edges, no_backdrop
from render.plan.checks.finding import Check, no_camera
from render.plan.checks.in_frame import in_frame

LENS: tuple[Check, ...] = (
    Check("lamps and panels in the frame", in_frame, no_camera),
    Check("edges of the backdrop in the frame", backdrop_edges, no_backdrop),
)
