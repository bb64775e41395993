"""A light as the tracer sees it: its shining cloth, its black housing, its lip or tube."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from render.emission import Ball, Disk, Front, Rectangle, cloth, housing, room_from_local
from render.emission.solids import lip_triangles
from render.trace.materials import Node, matte
from render.trace.meshes import mesh, room_from_square

Emission = Callable[[Front], Any]


def light_nodes(front: Front, k: int, emission: Emission | None) -> Node:
    """Parts of light k, first the cloth `light_<k>`; it is black without an emission."""
    nodes: Node = {f"light_{k}": _cloth(front, k, emission(front) if emission else None)}
    vertices, triangles = _black(front)
    if len(triangles):
        nodes[f"housing_{k}"] = mesh(f"housing_{k}", vertices, triangles, matte(0.0))
    if _round_lip(front):
        nodes[f"lip_{k}"] = _tube(front)
    return nodes


def _cloth(front: Front, k: int, emitter: Any) -> Any:
    """The shining surface: exact where the tracer has such a shape, else triangles."""
    if isinstance(front.shape, Rectangle | Disk):
        node: Node = {
            "type": "rectangle" if isinstance(front.shape, Rectangle) else "disk",
            "to_world": room_from_square(
                front.centre_m, front.right, front.up, front.width_m, front.height_m
            ),
        }
    elif isinstance(front.shape, Ball):
        node = {
            "type": "sphere",
            "center": list(map(float, front.centre_m)),
            "radius": 0.5 * front.width_m,
        }
    else:
        return mesh(f"light_{k}", *cloth(front), matte(0.0), emitter=emitter)
    node["bsdf"] = matte(0.0)
    if emitter is not None:
        node["emitter"] = emitter
    return node


def _round_lip(front: Front) -> bool:
    return isinstance(front.shape, Disk) and front.recess_m > 0


def _black(front: Front) -> tuple[Any, Any]:
    """Housing without the lip where a true cylinder stands for it."""
    vertices, triangles = housing(front)
    if _round_lip(front):
        triangles = np.delete(triangles, np.r_[lip_triangles(front)], axis=0)
    return vertices, triangles


def _tube(front: Front) -> Node:
    """A round lip; triangles within its circle would let the rim of the disk stand out."""
    ends = room_from_local(front, np.array([[0, 0, 0], [0, 0, front.recess_m]]))
    return {
        "type": "cylinder",
        "p0": list(map(float, ends[0])),
        "p1": list(map(float, ends[1])),
        "radius": 0.5 * front.width_m,
        "bsdf": matte(0.0),
    }
