"""Which faults a set-up really has, by the computations of `check` and `who`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from render.photometry.srgb import luminance
from render.picture import Look
from render.picture.develop import codes, mix
from render.plan.checks.face import nose_axes
from render.plan.checks.finding import Context
from render.plan.checks.frustum import Frustum
from render.plan.checks.frustum import clipped as clipped_parts
from render.plan.checks.holding import holders
from render.plan.checks.in_frame import JUDGED, LOOSE, covered_share, in_frame
from render.plan.checks.nose_light import no_light_behind, nose_light
from render.plan.checks.nose_shadows import no_face_light, nose_shadows
from render.plan.checks.pattern import HIGHEST_DEG
from render.plan.checks.tones import tones
from render.plan.who.taken import tone_at
from render.plan.who.tones import range_of
from render.predict import Obstacles
from render.predict.touch import ray_scene
from render.quiz.questions import Fault
from render.quiz.scenes import Stood
from render.series.run import Run
from render.setview.solids import BACKDROP, set_solids

Floats = NDArray[np.float64]

DARK = range_of("dark")[1]
SPILL_SHARE = 0.5  # of the backdrop's light that is the key's, straight
# From these on a fault shows on a printed sheet; by eye, of pictures 80 mm wide.
SHOWS: Mapping[Fault, float] = {
    "nose": -2.7,  # stops re key
    "spill": 0.5,  # share of the backdrop's light
    "frame": 0.5,  # % of the frame
    "crossed": -0.6,  # stops apart, negative
    "high": 57.0,  # degrees
    "clipped": 2.0,  # % of the place
}
SEEN_CODES, SEEN_SHARE = 12.0, 0.01  # a light shows where it moves so many codes of so many pixels


def context_of(made: Stood) -> Context:
    """A set-up ready for checks, not placed again."""
    context = Context(made.setup)
    known = {"layout": made.layout, "sitter": made.rays}
    vars(context).update(known, obstacles=Obstacles.of(made.layout, made.still))
    return context


def faults_in(
    context: Context, run: Run, over_stops: float = 0.0, dark: float = DARK
) -> dict[Fault, float]:
    """Faults that show without a picture, each with the number of its check.

    over_stops : by which the whole picture is overexposed, another fault
    dark       : linear luminance (1 is white) up to which no light has spilled on a backdrop
    """
    found: dict[Fault, float] = {}
    if not no_face_light(context):
        crossed = [f for f in nose_shadows(context) if f.verdict != "fine"]
        if crossed:
            found["crossed"] = -min(f.value for f in crossed)
    if not no_light_behind(context):
        lit = [f for f in nose_light(context) if f.verdict != "fine"]
        if lit:
            found["nose"] = max(f.value for f in lit)
    up = key_angles(context)[1]
    if up > HIGHEST_DEG:
        found["high"] = up
    spill = spilled(run, over_stops, dark)
    if spill is not None:
        found["spill"] = spill
    framed = in_the_frame(context)
    if framed > 0:
        found["frame"] = framed
    return found


def in_the_frame(context: Context) -> float:
    """Most that a lamp, a panel or their stands cover of the frame [%]; 0 for nothing."""
    # Nothing is drawn and counted where rays find no part in the frame.
    if not _comes_in(context):
        return 0.0
    inside = [f for f in in_frame(context) if f.unit == "% of the frame"]
    return max((f.value for f in inside), default=0.0)


def _comes_in(context: Context) -> bool:
    """Whether rays through the frame meet a lamp, a panel, or legs and bag of a stand."""
    lens, bare = context.layout.view, replace(context.layout, body=None)
    assert lens is not None
    frustum, solids = Frustum.of(lens), set_solids(bare, holders(context.setup, bare))
    backdrop = ray_scene([each.mesh for each in solids if each.name == BACKDROP])
    return any(
        covered_share(lens, each.mesh, (backdrop, context.sitter)) > 0
        for each in solids
        if each.name != BACKDROP
        and each.part in (*JUDGED, *LOOSE)
        and clipped_parts(frustum, each.mesh)
    )


def key_angles(context: Context) -> tuple[float, float]:
    """Degrees of the key beside the nose and above it, as the pattern's name takes them."""
    layout, sitter = context.layout, context.setup.scene.sitter
    assert layout.body is not None
    assert sitter is not None
    tip = layout.body.landmarks["nose_tip"].position_m.astype(float)
    return nose_axes(sitter).angles_deg(layout.fronts[layout.key].centre_m - tip)


def spilled(run: Run, over_stops: float, dark: float) -> float | None:
    """Share of the backdrop's light that is the key's, straight, where that makes it bright."""
    row = run.rows.backdrop
    if row is None:
        return None
    light = float(luminance(np.array(tone_at(run.taken, row).linear)))
    if light / 2.0**over_stops <= dark:
        return None
    share = float(run.taken.measured.direct[row, run.key] / run.taken.light(row).sum())
    return share if share >= SPILL_SHARE else None


def clipped(context: Context, look: Look) -> float:
    """Most of face or clothes that is clipped [%], where `check` calls it wrong; else 0."""
    vars(context)["look"] = look
    lost = [f for f in tones(context) if f.check == "clipped" and f.verdict == "wrong"]
    return max((f.value for f in lost), default=0.0)


def lights_seen(look: Look) -> int:
    """How many lights show in a picture: without each of them it is another one."""
    whole = 255 * codes(look.picture.linear)
    count = 0
    for name in look.frames:
        others = tuple(each for each in look.frames if each != name)
        rest = mix(look.frames, look.layout, look.picture.exposure, others)
        moved = np.abs(whole - 255 * codes(rest.linear)).max(axis=-1) > SEEN_CODES
        count += bool(np.mean(moved) > SEEN_SHARE)
    return count
