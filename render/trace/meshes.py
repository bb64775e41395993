"""Simple shapes from arrays: triangles, and the frame of a flat piece in the room."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np

from render.trace.materials import Node


def room_from_square(
    centre: Any, right: Any, up: Any, width_m: float, height_m: float
) -> mi.ScalarTransform4f:
    """Takes the tracer's rectangle (x, y in [-1, 1], facing +z) to its place in the room."""
    matrix: Any = np.eye(4)
    matrix[:3, 0] = np.asarray(right) * width_m / 2
    matrix[:3, 1] = np.asarray(up) * height_m / 2
    matrix[:3, 2] = np.cross(right, up)
    matrix[:3, 3] = centre
    return mi.ScalarTransform4f(matrix)


def mesh(
    name: str,
    vertices: Any,
    triangles: Any,
    material: Node,
    normals: Any = None,
    uv: Any = None,
    emitter: Any = None,
) -> Any:
    """A triangle mesh from arrays; as a light it needs a name to be told by."""
    properties = mi.Properties()
    properties.set_id(name)
    properties["bsdf"] = mi.load_dict(material)
    if emitter is not None:
        properties["emitter"] = mi.load_dict(emitter) if isinstance(emitter, dict) else emitter
    shape = mi.Mesh(
        name,
        len(vertices),
        len(triangles),
        has_vertex_normals=normals is not None,
        has_vertex_texcoords=uv is not None,
        props=properties,
    )
    parameters: Any = mi.traverse(shape)
    parameters["vertex_positions"] = np.asarray(vertices, np.float32).ravel()
    parameters["faces"] = np.asarray(triangles, np.uint32).ravel()
    if normals is not None:
        parameters["vertex_normals"] = np.asarray(normals, np.float32).ravel()
    if uv is not None:
        parameters["vertex_texcoords"] = np.asarray(uv, np.float32).ravel()
    parameters.update()
    return shape
