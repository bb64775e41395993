"""Set-ups of tests with a thing changed, as their scene file would say it."""

from __future__ import annotations

from typing import Any

from render.plan.changes.settings import changed, of_light
from render.scenefile import Setup


def with_light(setup: Setup, name: str, **values: Any) -> Setup:
    """The set-up with some keys of one light changed."""
    return changed(setup, of_light(name, **values))
