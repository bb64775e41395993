"""The checks of lens, eyes and light, in the order in which they are done."""

from __future__ import annotations

from render.plan.checks.backdrop_edges import backdrop_edges, no_backdrop
from render.plan.checks.catchlights import catchlights, no_eyes
from render.plan.checks.finding import Check, no_camera
from render.plan.checks.flare import flare
from render.plan.checks.glasses_glare import glasses_glare, no_glasses
from render.plan.checks.in_frame import how_seen, in_frame
from render.plan.checks.nose_light import no_light_behind, nose_light
from render.plan.checks.nose_shadows import no_face_light, nose_shadows
from render.plan.checks.particles import check_particles, no_particles
from render.plan.checks.pattern import no_pattern, pattern
from render.plan.checks.tones import no_look, tones

LENS: tuple[Check, ...] = (
    Check("lamps and panels in the frame", in_frame, no_camera, how_seen),
    Check("edges of the backdrop in the frame", backdrop_edges, no_backdrop),
    Check("flare from lights that shine on the lens", flare, no_camera),
    Check("light from behind on nose, brow or cheek", nose_light, no_light_behind),
    Check("two nose shadows that cross", nose_shadows, no_face_light),
    Check("glare on glasses, lights and panels", glasses_glare, no_glasses),
    Check("catchlights", catchlights, no_eyes),
    Check("lighting pattern, broad or short", pattern, no_pattern),
    Check("particles: coverage of the frame, depth", check_particles, no_particles),
    Check("clipped and crushed areas of the look", tones, no_look),
)
