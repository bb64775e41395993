"""The set in the tracer's own words: shapes from arrays, in a fixed order."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mitsuba as mi
import numpy as np

from render.emission import Front, housing
from render.layout.placed import Sheet
from render.layout.sweep import sheet_mesh
from render.sitter.body import Glass, Skin, Strands, Surface
from render.trace.digest import digest
from render.trace.materials import Node, fibre, matte, sheet_material, surface_material
from render.trace.stage import Dress, Stage, thinned

KEPT_SHAPES = 96  # parts of sitters kept in memory between jobs; a sitter has about fifteen
PLATE_AND_SIDES = 10  # triangles of a housing before those of its lip
Emission = Callable[[Front], Node]

_shapes: dict[str, Any] = {}


def scene_nodes(stage: Stage, emission: Emission) -> Node:
    """The whole set but for sensor and integrator; light k has the id `light_<k>`.

    The order is that of the set: a seed gives the same picture in every process.
    """
    nodes: Node = {"type": "scene"}
    for k, front in enumerate(stage.fronts):
        nodes[f"light_{k}"] = _emitting_plane(front, front.name in stage.emitting, emission)
        nodes[f"housing_{k}"] = _housing(front, k)
    for k, sheet in enumerate(stage.sheets):
        nodes[f"sheet_{k}"] = _sheet(sheet, k)
    if stage.body:
        for surface in stage.body.surfaces:
            if not isinstance(surface.material, Glass):
                nodes[f"body_{surface.name}"] = _kept(surface, stage.dress, body_surface)
        if stage.dress == "real":
            for strands in stage.body.strands:
                fewer = thinned(strands, stage.strand_share)
                nodes[f"body_{strands.name}"] = _kept(fewer, stage.dress, body_strands)
    return nodes


def lens_nodes(stage: Stage) -> Node:
    """The clear sheets of the sitter; they are worn in the real dress only."""
    if stage.body is None or stage.dress != "real":
        return {}
    return {
        f"body_{surface.name}": _kept(surface, stage.dress, body_surface)
        for surface in stage.body.surfaces
        if isinstance(surface.material, Glass)
    }


def skin_of(stage: Stage) -> Surface | None:
    """The skin that light may go under, in the real dress."""
    if stage.body is None or stage.dress != "real":
        return None
    skins = [s for s in stage.body.surfaces if isinstance(s.material, Skin)]
    return skins[0] if skins else None


def _kept(part: Any, dress: Dress, build: Callable[[Any, Dress], Any]) -> Any:
    """Parts of the sitter outlive a scene: moving a light builds none of them again."""
    key = digest((part, dress))
    if key not in _shapes:
        _shapes[key] = build(part, dress)
        while len(_shapes) > KEPT_SHAPES:
            _shapes.pop(next(iter(_shapes)))
    return _shapes[key]


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


def _emitting_plane(front: Front, shines: bool, emission: Emission) -> Node:
    plane: Node = {
        "type": "rectangle",
        "to_world": room_from_square(
            front.centre_m, front.right, front.up, front.width_m, front.height_m
        ),
        "bsdf": matte(0.0),
    }
    if shines:
        plane["emitter"] = emission(front)
    return plane


def _housing(front: Front, k: int) -> Any:
    """Black shell; its lip only where there is one, since a bare front has none."""
    vertices, triangles = housing(front)
    if front.recess_m == 0:
        triangles = triangles[:PLATE_AND_SIDES]
    return mesh(f"housing_{k}", vertices, triangles, matte(0.0))


def _sheet(sheet: Sheet, k: int) -> Any:
    """A flat sheet, or a paper with its bend as one smooth mesh."""
    if sheet.bend is not None:
        vertices, normals, triangles = sheet_mesh(sheet)
        return mesh(f"sheet_{k}", vertices, triangles, sheet_material(sheet), normals=normals)
    return {
        "type": "rectangle",
        "to_world": room_from_square(
            sheet.centre_m, sheet.right, sheet.up, sheet.width_m, sheet.height_m
        ),
        "bsdf": sheet_material(sheet),
    }


def body_surface(surface: Surface, dress: Dress) -> Any:
    """A part of the sitter as a smooth mesh."""
    material = surface_material(surface.material, dress)
    return mesh(
        surface.name,
        surface.vertices,
        surface.triangles,
        material,
        normals=surface.normals,
        uv=surface.uv,
    )


def mesh(
    name: str, vertices: Any, triangles: Any, material: Node, normals: Any = None, uv: Any = None
) -> Any:
    """A triangle mesh from arrays."""
    properties = mi.Properties()
    properties["bsdf"] = mi.load_dict(material)
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


def body_strands(strands: Strands, _: Dress) -> Any:
    """Hair as chains of cones. The tracer reads curves from a file only."""
    controls = np.concatenate([strands.points, strands.radii[..., None]], -1).astype(np.float32)
    if str(mi.variant()).startswith("scalar"):
        return _curves(controls, strands)
    # A stub to be filled from memory: much faster than text, but the plain engine refuses it.
    shape = _curves(np.array([[[0, 0, 0, 1e-3], [0, 1, 0, 1e-3]]], np.float32), strands)
    count, knots, _four = controls.shape
    first = np.arange(count, dtype=np.uint32)[:, None] * knots
    parameters: Any = mi.traverse(shape)
    parameters["control_point_count"] = count * knots
    parameters["control_points"] = controls.ravel()
    parameters["segment_indices"] = (first + np.arange(knots - 1, dtype=np.uint32)).ravel()
    parameters.update()
    return shape


def _curves(controls: Any, strands: Strands) -> Any:
    """Curves from (n, k, 4) positions and radii [m], by way of a text file."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "strands.txt"
        with file.open("w") as text:
            for strand in controls:
                np.savetxt(text, strand, "%.7f")
                text.write("\n")
        return mi.load_dict(
            {"type": "linearcurve", "filename": str(file), "bsdf": fibre(strands.fibre)}
        )
