"""Particles in the air: how much of the frame they hide, how far from the plane of focus."""

from __future__ import annotations

import numpy as np

from render.layout.coverage import hidden_share
from render.plan.checks.finding import Context, Finding, Verdict, no_camera

# Denser than this, particles hide and shade what is behind: adding them then looks like fog. And
# how far from the sitter's plane they may be before they are big and soft. Common practice.
DENSE_PERCENT = 25.0
DEEP_M = 0.5


def no_particles(context: Context) -> str:
    """Why nothing in the air can be judged."""
    return no_camera(context) if context.setup.scene.element else "the scene has no element"


def check_particles(context: Context) -> list[Finding]:
    """Mean coverage of the frame, and the depth of each cloud."""
    view = context.layout.view
    assert view is not None
    share = 100 * hidden_share(context.layout.elements, view)
    words = (
        f"Particles hold back {share:.1f} % of the light from behind them, mean of the frame, by "
        "their areas and not by how bright they are; readings and shadows are told as if they were "
        "not there"
    )
    dense = share > DENSE_PERCENT
    if dense:
        words += (
            f". Beyond {DENSE_PERCENT:g} % they need a matte and a shadow of their own in a "
            "composite: throw fewer"
        )
    verdict: Verdict = "look" if dense else "fine"
    found = [Finding("coverage", "camera", verdict, share, "%", DENSE_PERCENT, f"{words}.")]
    for cloud in context.layout.elements:
        along = (view.position_m - cloud.centres_m) @ view.back - view.focus_m
        off = float(along[np.argmax(np.abs(along))])
        side = "behind" if off > 0 else "before"
        words = f"{cloud.name} reaches {100 * abs(off):.0f} cm {side} the plane of focus"
        deep = abs(off) > DEEP_M
        if deep:
            words += f"; beyond {100 * DEEP_M:.0f} it is big and soft, or too small"
        verdict = "look" if deep else "fine"
        about, limit = f"element.{cloud.name}", 100 * DEEP_M
        found.append(Finding("depth", about, verdict, 100 * abs(off), "cm", limit, f"{words}."))
    return found
