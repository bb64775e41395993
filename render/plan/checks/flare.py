"""Flare: light that shines straight on the front lens, and the smallest flag that stops it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.layout.geometry import unit
from render.layout.lens import project, ray_through
from render.layout.placed import View
from render.photometry.stops import stops
from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.flag import beams_on_sitter, best_flag, least_turn
from render.predict import direct_exposure
from render.predict.softness import Shining, shining

Floats = NDArray[np.float64]

# So near to the frame no hood helps; farther out than the second angle a hood keeps the light off.
# Common practice, no source.
NO_HOOD_DEG, NEAR_FRAME_DEG = 10.0, 30.0


def flare(context: Context) -> list[Finding]:
    """One finding for each light that fires."""
    layout, lens = context.layout, context.layout.view
    assert lens is not None
    eye, axis = lens.position_m[None], -lens.back[None]
    read = direct_exposure(layout, eye, axis, "flat", obstacles=context.obstacles)
    bare = direct_exposure(layout, eye, axis, "flat")
    found = []
    for i, front in enumerate(layout.fronts):
        if front.luminous_energy_lm_s <= 0:
            continue
        light = float(read.luminous_exposure_lx_s[0, i])
        seen = _seen(context, i, lens) if light > 0 else None
        if seen is None or not len(seen.light):
            hidden = float(bare.unobstructed_lx_s[0, i]) > 0
            found.append(_dark(front, hidden, lens))
            continue
        share = float(read.visible_fraction[0, i])
        found.append(_lit(context, i, seen, light, share))
    return found


def _dark(front: Front, hidden: bool, lens: View) -> Finding:
    why = "it is turned away or its lip or grid hides it"
    if hidden:
        why = "something stands before it"
    elif (front.centre_m - lens.position_m) @ lens.back > 0:
        why = "it stands behind the lens"
    words = f"light.{front.name} does not shine on the lens: {why}; 0 % of its front is seen."
    return Finding("flare", f"light.{front.name}", "fine", 0.0, "% of the front seen", 0.0, words)


def _seen(context: Context, index: int, lens: View) -> Shining:
    """The places of a front that the lens sees, the sitter included among what hides it."""
    every = shining(context.layout, index, lens.position_m)
    starts = np.broadcast_to(lens.position_m, every.at_m.shape)
    free = ~context.obstacles.blocked(index, starts, every.at_m) & (every.luminance > 0)
    return Shining(every.at_m[free], every.light[free], every.luminance[free])


def from_frame_deg(lens: View, places: Floats) -> Floats:
    """Angle (n,) [deg] between places (n, 3) [m] and the nearest place of the frame; 0 inside it.

    Beyond 90 degrees from the axis, between the place and the axis.
    """
    ways = unit(places - lens.position_m)
    ahead = -(ways @ lens.back) > 0
    inside = ray_through(lens, np.clip(np.nan_to_num(project(lens, places), nan=0.5), 0.0, 1.0))
    cosine = np.sum(ways * np.where(ahead[:, None], inside, -lens.back), axis=1)
    found: Floats = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return found


def _lit(context: Context, index: int, seen: Shining, light: float, share: float) -> Finding:
    layout, lens = context.layout, context.layout.view
    assert lens is not None
    front = layout.fronts[index]
    outside = float(from_frame_deg(lens, seen.at_m).min())
    ways = unit(seen.at_m - lens.position_m)
    off_axis = float(np.degrees(np.arccos(np.clip(np.max(-(ways @ lens.back)), -1, 1))))
    words = (
        f"light.{front.name} shines on the lens: {100 * share:.0f} % of its front is seen, "
        f"{off_axis:.0f} degrees off the axis and {outside:.0f} outside the frame"
    )
    key = float(np.max(context.face.at_light_lx_s[:, layout.key], initial=0.0))
    if key > 0:
        words += f", {float(stops(light / key)):+.1f} stops of the key on the face"
    far = outside >= NEAR_FRAME_DEG
    words += "; a hood keeps it off." if far else f"; {_cure(context, index, seen)}."
    verdict: Verdict = "look" if outside >= NO_HOOD_DEG else "wrong"
    return Finding(
        check="flare",
        about=f"light.{front.name}",
        verdict="fine" if far else verdict,
        value=outside,
        unit="deg outside the frame",
        limit=NEAR_FRAME_DEG,
        words=words,
    )


def _cure(context: Context, index: int, seen: Shining) -> str:
    """The flag that stops it, and the turn of the light that does, in words."""
    beams = beams_on_sitter(context, index)
    flag, turn = best_flag(context, seen, beams), least_turn(context, index, beams)
    told = "no flag stops it without coming into the frame or into the light of the sitter"
    if flag is not None:
        x, y, z = flag.centre_m
        told = (
            f"a flag of {100 * flag.width_m:.0f} x {100 * flag.height_m:.0f} cm stops it, "
            f"{100 * flag.from_light_m:.0f} cm before the light with its middle at x {x:.2f}, "
            f"y {y:.2f}, z {z:.2f} m"
        )
    if turn is not None:
        told += (
            f"{', or' if flag is not None else '; rather'} turn the light {turn.degrees} degrees "
            f"{turn.way}, at {round(turn.stops, 1) + 0.0:+.1f} stops on the sitter"
        )
    return told
