"""The checks of lens, eyes and light, in the order in which they are done."""

from __future__ import annotations

from render.plan.checks.finding import Check

LENS: tuple[Check, ...] = ()
