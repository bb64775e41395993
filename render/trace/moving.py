"""Lights that were only moved or aimed are moved in the built set: nothing else is built again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import mitsuba as mi
import numpy as np

from render.emission import Front
from render.trace.digest import digest
from render.trace.modifiers import light_nodes
from render.trace.stage import Stage

NOWHERE: dict[str, Any] = {
    "centre_m": np.zeros(3),
    "right": np.array([1.0, 0.0, 0.0]),
    "up": np.array([0.0, 1.0, 0.0]),
}
PLACES = ("to_world", "vertex_positions")  # of a shape: the parameters that say where it is


def still_key(stage: Stage) -> str:
    """Name of all that a set shows but the places and directions of its lights."""
    return replace(stage, fronts=tuple(replace(f, **NOWHERE) for f in stage.fronts)).key


def move_lights(scene: Any, before: Stage, now: Stage) -> None:
    """Put the lights of a built set where they stand in another one of the same `still_key`.

    The tracer's trees are made again of the same parts in the same order: pictures are the same to
    the last bit as those of a set that is built anew.
    """
    shining = dict(zip(now.emitting, scene.emitters(), strict=True))
    parameters: Any = mi.traverse(scene)
    for k, (was, front) in enumerate(zip(before.fronts, now.fronts, strict=True)):
        if digest(was) != digest(front):
            if front.name in shining:
                shining[front.name].stand(front)
            for name, value in _places(front, k).items():
                parameters[name] = value
    parameters.update()


def _places(front: Front, k: int) -> dict[str, Any]:
    """Where the parts of light k are, in the tracer's own words; read from parts built for it."""
    found = {}
    for name, node in light_nodes(front, k, None).items():
        built: Any = mi.traverse(mi.load_dict(node) if isinstance(node, dict) else node)
        for place in PLACES:
            if place in built:
                found[f"{name}.{place}"] = type(built[place])(built[place])
    return found
