"""A change to a set-up as its scene file would say it, and the set-up with it made."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from render.scenefile import Setup
from render.studio.room import Panel

NEW_PANEL = "panel."  # begins the keys of panels that a change brings


@dataclass(frozen=True, slots=True)
class Setting:
    """One key of the scene file and what it is set to."""

    key: str  # as "light.key.grid_deg"
    value: Any  # as in the file; None leaves the key out; a panel's keys as a dict


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do in the room."""

    name: str  # as it is said: "40° grid on key"
    effort: int  # 1 the least; see `render.plan.who.darker`
    settings: tuple[Setting, ...]


def changed(setup: Setup, settings: Iterable[Setting]) -> Setup:
    """The set-up with some keys of its scene set to other values, not yet placed."""
    scene: Any = setup.scene
    for each in settings:
        value = each.value
        if each.key.startswith(NEW_PANEL) and isinstance(value, dict):
            value = Panel.model_validate(value)
        scene = _with(scene, each.key.split("."), value)
    return replace(setup, scene=scene)


def _with(node: Any, path: list[str], value: Any) -> Any:
    head, rest = path[0], path[1:]
    if isinstance(node, dict):
        return node | {head: _with(node[head], rest, value) if rest else value}
    new = _with(getattr(node, head), rest, value) if rest else value
    return node.model_copy(update={head: new})


def together(steps: Iterable[Step]) -> Step:
    """Several steps as one."""
    each = tuple(steps)
    name = ", ".join(step.name for step in each)
    settings = tuple(setting for step in each for setting in step.settings)
    return Step(name, sum(step.effort for step in each), settings)
