"""What can go wrong in a set as it is planned, each with the number behind the verdict."""

from __future__ import annotations

from render.plan.checks.finding import Check, Checks, Finding, run_checks
from render.plan.checks.lens import LENS
from render.scenefile import Setup

__all__ = ["Checks", "Finding", "check_set"]

CHECKS: tuple[Check, ...] = (*LENS,)
NEVER = ("clipped highlights and crushed shadows (see the look)",)


def check_set(setup: Setup) -> Checks:
    """Do every check that the scene allows.

    Raises SceneError, KitError and MeshError for a scene that cannot be placed.
    """
    return run_checks(setup, CHECKS, NEVER)
