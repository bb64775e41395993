"""What was only moved, turned or painted anew is changed in the built set: nothing else is built.

Pictures are the same to the last bit as those of a set that is built anew: the tracer's trees are
made again of the same parts in the same order.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import drjit as dr
import mitsuba as mi
import numpy as np

from render.emission import Front
from render.sitter.body import Glass
from render.trace.digest import digest
from render.trace.modifiers import light_nodes
from render.trace.nodes import moved_parts, sheet_node
from render.trace.stage import Stage

Changed = Literal["not", "moved", "reshaped"]
NOWHERE: dict[str, Any] = {
    "centre_m": np.zeros(3),
    "right": np.array([1.0, 0.0, 0.0]),
    "up": np.array([0.0, 1.0, 0.0]),
}
POINTS = ("vertex_positions", "control_points")  # of a mesh, of strands
PLACES = ("to_world", "vertex_positions")  # of a light's part: the parameters that say where it is


def change(scene: Any, parameters: Any, before: Stage, now: Stage) -> Changed:
    """Make the built set of one stage show another, or leave it alone.

    parameters : of the scene, as the tracer lists them
    returns : "not" where it cannot be done: lights, sheets and the sitter may stand, hang and face
              anywhere, and sheets may have other colours, but all must be of the same parts;
              "reshaped" where points of a mesh or of strands are others now, except of a housing,
              which is black: steps that were written down before know the old ones
    """
    if _lasting(before) != _lasting(now):
        return "not"
    values = _sheets(parameters, before, now)
    if values is None:
        return "not"
    if digest(before.body) != digest(now.body):
        parts = None if _has_scenes_of_its_own(now) else moved_parts(before, now)
        if parts is None:
            return "not"
        values |= parts
    values |= _lights(scene, before, now)
    for name, value in values.items():
        parameters[name] = value
    parameters.update()
    shapes = (n for n in values if n.endswith(POINTS) and not n.startswith("housing_"))
    return "reshaped" if any(shapes) else "moved"


def _lasting(stage: Stage) -> str:
    """Name of what cannot be changed in a built set."""
    fronts = tuple(replace(front, **NOWHERE) for front in stage.fronts)
    return replace(stage, fronts=fronts, sheets=(), body=None).key


def _has_scenes_of_its_own(stage: Stage) -> bool:
    """Lenses, and skin that light goes under, are looked for in small scenes beside the set."""
    surfaces = stage.body.surfaces if stage.body else ()
    return stage.skin == "under" or any(isinstance(each.material, Glass) for each in surfaces)


def _lights(scene: Any, before: Stage, now: Stage) -> dict[str, Any]:
    """Have the lights that moved shine from where they stand now; their parts' new places."""
    shining = dict(zip(now.emitting, scene.emitters(), strict=True))
    found: dict[str, Any] = {}
    for k, (was, front) in enumerate(zip(before.fronts, now.fronts, strict=True)):
        if digest(was) != digest(front):
            if front.name in shining:
                shining[front.name].stand(front)
            found |= _places(front, k)
    return found


def _places(front: Front, k: int) -> dict[str, Any]:
    """Where the parts of light k are, in the tracer's own words; read from parts built for it."""
    return {
        f"{name}.{place}": value
        for name, node in light_nodes(front, k, None).items()
        for place, value in _parameters(node).items()
        if place in PLACES
    }


def _sheets(parameters: Any, before: Stage, now: Stage) -> dict[str, Any] | None:
    """All that is said of the sheets that changed; None where one is now of other parts."""
    if len(before.sheets) != len(now.sheets):
        return None
    found: dict[str, Any] = {}
    for k, (was, sheet) in enumerate(zip(before.sheets, now.sheets, strict=True)):
        if digest(was) != digest(sheet):
            values = {
                f"sheet_{k}.{name}": value
                for name, value in _parameters(sheet_node(sheet, k)).items()
            }
            present = {name for name in parameters.keys() if name.startswith(f"sheet_{k}.")}  # noqa: SIM118 - it is no dictionary
            if present != set(values) or any(
                dr.width(value) != dr.width(parameters[name]) for name, value in values.items()
            ):
                return None
            # Those alone that differ: a wall that is only painted needs no new tree.
            found |= {n: v for n, v in values.items() if not _same(v, parameters[n])}
    return found


def _same(value: Any, other: Any) -> bool:
    if isinstance(value, float):
        return bool(value == other)
    return np.array_equal(np.array(value), np.array(other))


def _parameters(node: Any) -> dict[str, Any]:
    """Parameters of a part that is built for them, alike materials apart as in the set."""
    part = mi.load_dict(node, optimize=False) if isinstance(node, dict) else node
    built: Any = mi.traverse(part)
    return {name: type(built[name])(built[name]) for name in built.keys()}  # noqa: SIM118
