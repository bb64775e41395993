"""A change to a set-up as its scene file would say it, and the set-up with it made."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from render.errors import SceneError
from render.scenefile import Setup
from render.scenefile.parse import sentence
from render.studio.scene import Scene

# How much work a change is and how much else of the picture it moves: a dial of a light or the
# camera, an aim, what is put before a light, a panel on a stand, a light moved, the sitter's gap or
# another head, another backdrop, cloth over a wall. Common practice, no source.
DIAL, AIM, FRONT, PANEL, MOVE, GAP, PAPER, DRAPE = 1, 2, 3, 4, 5, 6, 7, 8
HEAD = GAP
NEW_PANEL = "panel."  # begins the keys of panels that a change brings


@dataclass(frozen=True, slots=True)
class Setting:
    """One key of the scene file and what it is set to."""

    key: str  # as "light.key.grid"
    value: Any  # as the file writes it; None leaves the key out; a new panel's keys as a dict


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do in the room; what can be had in any amount says how."""

    name: str  # as it is said: "grid fabric-40 on the key light"
    effort: int  # 1 the least
    settings: tuple[Setting, ...]
    amount: float = 0.0
    begin: float = 0.0  # amount that leaves the set-up as it is
    again: Callable[[float], Step | None] | None = None  # the same in another amount


Family = tuple[Step, ...]  # the same thing done more and more


def of_light(name: str, **values: Any) -> tuple[Setting, ...]:
    """Settings of one light's keys."""
    return tuple(Setting(f"light.{name}.{key}", value) for key, value in values.items())


def changed(setup: Setup, settings: Iterable[Setting]) -> Setup:
    """The set-up with some keys of its scene set to other values, read as from its file.

    Raises SceneError for a value that a scene file may not have.
    """
    page = setup.scene.model_dump(exclude_unset=True)
    for each in settings:
        *tables, last = each.key.split(".")
        table = page
        for name in tables:
            table = table.setdefault(name, {})
        if each.value is None:
            table.pop(last, None)
        else:
            table[last] = each.value
    try:
        return replace(setup, scene=Scene.model_validate(page))
    except ValidationError as problems:
        raise SceneError(setup.file, *sentence(Scene, problems.errors()[0])) from None


def together(steps: Iterable[Step]) -> Step:
    """Several steps as one, in their order."""
    each = tuple(steps)
    name = ", and ".join(step.name for step in each)
    settings = merged(setting for step in each for setting in step.settings)
    return Step(name, sum(step.effort for step in each), settings)


def merged(settings: Iterable[Setting]) -> tuple[Setting, ...]:
    """One setting for each key, the last."""
    return tuple({each.key: each for each in settings}.values())


def family(*steps: Step | None) -> Family:
    """Those that can be done, in order."""
    return tuple(step for step in steps if step is not None)


def so_many(stops_: float) -> str:
    """Stops as they are said, without a sign: "0.3 stop", "1.2 stops"."""
    tenths = round(abs(stops_), 1)
    return f"{tenths:.1f} stop{'s' if tenths > 1 else ''}"
