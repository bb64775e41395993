"""Columns and booms: whether one stands in the picture, in the sitter or through a wall."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.lens import project
from render.layout.placed import View
from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.fit import box_of
from render.plan.checks.legs import turned_legs
from render.plan.checks.rig import Rig, rigs

Floats = NDArray[np.float64]
COLUMN_RADIUS_M = 0.0175  # tubes of light stands are 25 to 35 mm thick; from memory
STOOL_M = 0.30  # half of a stool with the knees on it, in plan; from memory
BOOM_WITHIN_M = 0.4  # nearer to the sitter than this in plan, a light overhead hangs from a boom
CURES = {
    "column": "move it out, or hang the light from a boom",
    "boom": "turn it with azimuth_deg, or raise it",
}
CORNER_M = 0.01  # legs are set down to about a centimetre
STEPS = 60  # places along a column or boom, about 4 cm apart


def overhead(context: Context, rig: Rig) -> bool:
    """Whether a light hangs over the sitter: near in plan, and all of it above the head."""
    body = context.layout.body
    if body is None:
        return False
    skin = body.surfaces[0].vertices
    over = rig.front_m[None] if rig.kind != "boom" else np.stack([rig.front_m, rig.mount_m])
    near = _plan_gap(over, skin) < BOOM_WITHIN_M
    return near and float(rig.surface_m[:, 1].min()) > float(skin[:, 1].max())


def _plan_gap(places: Floats, others: NDArray[np.float32]) -> float:
    """Least distance in plan between places (n, 3) and the box around others (m, 3) [m]."""
    low, high = others.min(0), others.max(0)
    away = np.maximum(np.maximum(low - places, places - high), 0.0)[:, [0, 2]]
    return float(np.hypot(away[:, 0], away[:, 1]).min())


def check_likely_booms(context: Context) -> list[Finding]:
    """Lights over the sitter for which nothing says what holds them."""
    found = []
    for rig in rigs(context.setup, context.layout):
        stated = {"stand", "boom"} & context.setup.scene.light[rig.light].model_fields_set
        if stated or not overhead(context, rig):
            continue
        assert context.layout.body is not None
        gap = 100 * _plan_gap(rig.front_m[None], context.layout.body.surfaces[0].vertices)
        words = (
            f"{rig.about} hangs above the head, {gap:.0f} cm away in plan: likely a boom. "
            f'Say stand = "boom" (or "none" for a rail) to have it checked.'
        )
        limit = 100 * BOOM_WITHIN_M
        found.append(Finding("boom", rig.about, "look", gap, "cm", limit, words))
    return found


def check_feet(context: Context) -> list[Finding]:
    """Columns and legs against the walls, tails of booms against walls and ceiling."""
    box = box_of(context.setup)
    found = []
    for rig in (each for each in rigs(context.setup, context.layout) if each.kind != "none"):
        found.append(_legs(rig, box))
        if rig.kind == "boom":
            found.append(_tail(rig, box))
    return found


def wall_gap(place: Floats, box: Floats) -> float:
    """Distance of a place (3,) from the nearest wall [m], below 0 behind it."""
    return float(np.minimum(place - box[0], box[1] - place)[[0, 2]].min())


def _legs(rig: Rig, box: Floats) -> Finding:
    """Turned with two legs to a wall, a tripod needs half its leg radius."""
    gap, needed = wall_gap(rig.foot_m, box), 0.5 * rig.leg_radius_m
    about, limit = rig.about, 100 * needed
    if gap < 0:
        words = f"Column of {about} would stand {-100 * gap:.0f} cm behind a wall."
        return Finding("stand", about, "wrong", 100 * gap, "cm", limit, words)
    words = f"Column of {about} is {100 * gap:.0f} cm from the nearest wall"
    if gap < needed:
        words += (
            f"; legs of {100 * rig.leg_radius_m:.0f} cm need {limit:.0f} cm there, "
            "even with two of them turned to it."
        )
        return Finding("stand", about, "wrong", 100 * gap, "cm", limit, words)
    into = turned_legs(rig, box).over_m
    if into > CORNER_M:  # two walls at once
        words += (
            f"; in that corner a leg of {100 * rig.leg_radius_m:.0f} cm reaches "
            f"{100 * into:.0f} cm into a wall, however they are turned."
        )
        return Finding("stand", about, "wrong", -100 * into, "cm", 0.0, words)
    return Finding("stand", about, "fine", 100 * gap, "cm", limit, f"{words}.")


def _tail(rig: Rig, box: Floats) -> Finding:
    gap, about = wall_gap(rig.tail_m, box), rig.about
    height = f"level at {rig.tail_m[1]:.2f} m"
    if gap < 0:
        words = (
            f"The tail of the boom of {about} reaches {-100 * gap:.0f} cm into a wall ({height}); "
            "turn the boom or shorten it."
        )
        return Finding("boom tail", about, "wrong", 100 * gap, "cm", 0.0, words)
    words = (
        f"The tail of the boom of {about} ends {100 * gap:.0f} cm from the nearest wall, {height}; "
        "mark it with bright tape."
    )
    return Finding("boom tail", about, "fine", 100 * gap, "cm", 0.0, words)


def check_columns_in_frame(context: Context) -> list[Finding]:
    """Columns and booms in the picture, unless sitter, panel or backdrop hides them."""
    found = []
    for rig in (each for each in rigs(context.setup, context.layout) if each.kind != "none"):
        parts = [("column", rig.foot_m, rig.column_m[1])]
        if rig.kind == "boom":
            parts.append(("boom", rig.mount_m, rig.tail_m))
        found += [_in_frame(context, rig, *part) for part in parts]
    return found


def _in_frame(context: Context, rig: Rig, part: str, start: Floats, end: Floats) -> Finding:
    what = f"{part.capitalize()} of {rig.about}"
    return bar_in_frame(context, rig.about, (what, CURES[part]), start, end)


def bar_in_frame(
    context: Context,
    about: str,
    told: tuple[str, str],
    start: Floats,
    end: Floats,
    seen_is: Verdict = "wrong",
) -> Finding:
    """Whether the camera sees a tube between two places (3,) [m].

    told    : what it is, as a sentence begins, and what takes it out of the picture
    seen_is : the verdict where it shows
    """
    view, (what, cure) = context.layout.view, told
    assert view is not None
    places = start + np.linspace(0, 1, STEPS)[:, None] * (end - start)
    outside = _outside_m(view, places) - COLUMN_RADIUS_M
    seen = outside < 0
    if seen.any():
        seen[seen] = context.obstacles.clear_sight(view.position_m, places[seen])
        deepest = float(outside[seen].min(initial=0.0))
        share = 100 * float(seen.mean())
        words = f"{what} is hidden by sitter, panel or backdrop."
        if deepest < 0:
            words = (
                f"{what} stands up to {-100 * deepest:.0f} cm inside the frame, {share:.0f} % of "
                f"its length shows; {cure}."
            )
        verdict: Verdict = seen_is if deepest < 0 else "fine"
        return Finding("stand in frame", about, verdict, 100 * deepest, "cm", 0.0, words)
    least = 100 * float(outside.min())
    if not np.isfinite(least):
        words = f"{what} is behind the lens."
        return Finding("stand in frame", about, "fine", 0.0, "cm", None, words)
    words = f"{what} is {least:.0f} cm outside the frame."
    return Finding("stand in frame", about, "fine", least, "cm", 0.0, words)


def _outside_m(view: View, places: Floats) -> Floats:
    """How far places (n, 3) are outside the frame, at their own depth [m]; below 0 is inside.

    Infinite behind the lens.
    """
    depth = -(places - view.position_m) @ view.back
    half = 0.5 * np.array([view.frame_width_m, view.frame_height_m]) / view.image_m
    across = (2 * np.abs(project(view, places) - 0.5) - 1) * half * depth[:, None]
    away: Floats = np.where(depth > 0, across.max(1), np.inf)
    return away


def check_columns_in_sitter(context: Context) -> list[Finding]:
    """Columns where the sitter's body, stool or knees are."""
    found = []
    for rig in (each for each in rigs(context.setup, context.layout) if each.kind != "none"):
        gap, about = sitter_gap(context, rig.foot_m, float(rig.mount_m[1])), rig.about
        words = f"Column of {about} is {100 * gap:.0f} cm from sitter and stool."
        if gap < 0:
            words = (
                f"Column of {about} would stand {-100 * gap:.0f} cm inside sitter or stool; "
                'hang it from a boom (stand = "boom").'
            )
        verdict: Verdict = "wrong" if gap < 0 else "fine"
        found.append(Finding("stand by sitter", about, verdict, 100 * gap, "cm", 0.0, words))
    return found


def sitter_gap(context: Context, foot: Floats, top_m: float) -> float:
    """Distance in plan of an upright column of a height from body and stool [m]; below 0 inside."""
    body = context.layout.body
    assert body is not None
    places = np.concatenate([part.vertices for part in body.surfaces])
    low = places[places[:, 1] < top_m]
    stool = float(np.hypot(foot[0], foot[2])) - STOOL_M
    beside = np.linalg.norm((low - foot)[:, [0, 2]], axis=1)
    return min(stool, float(beside.min(initial=np.inf))) - COLUMN_RADIUS_M
