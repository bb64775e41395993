"""What can go wrong in a set as it is planned, each with the number behind the verdict."""

from __future__ import annotations

from dataclasses import replace

from render.plan.checks.cautions import cautions
from render.plan.checks.finding import Check, Checks, Context, Finding, run_checks
from render.plan.checks.floor import FLOOR, NEVER_FLOOR
from render.plan.checks.lens import LENS
from render.scenefile import Setup

__all__ = ["Checks", "Finding", "check_set"]

CHECKS: tuple[Check, ...] = (*LENS, *FLOOR)
NEVER = (
    "what hair hides or shades",
    "walls, windows and the room's own light mirrored in eyes or glasses",
    *NEVER_FLOOR,
)


def check_set(setup: Setup, engine: str | None = None) -> Checks:
    """Do every check that the scene allows.

    engine : traces a small draft of the look for what clips; None leaves that out
    Raises SceneError, KitError and MeshError for a scene that cannot be placed.
    """
    context = Context(setup, engine)
    return replace(run_checks(context, CHECKS, NEVER), cautions=cautions(context))
