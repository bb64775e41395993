"""The set in the tracer's own words: shapes from arrays, in a fixed order."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import mitsuba as mi
import numpy as np

from render.layout.particles import cloud_mesh
from render.layout.placed import Cloud, Sheet
from render.layout.sweep import sheet_mesh
from render.sitter.body import Glass, Skin, Strands, Surface
from render.trace.addresses import at_round_address
from render.trace.digest import digest
from render.trace.materials import (
    Node,
    fibre,
    particle_material,
    sheet_material,
    surface_material,
)
from render.trace.meshes import mesh, room_from_square
from render.trace.modifiers import Emission, light_nodes
from render.trace.stage import Dress, Stage, thinned

Build = Callable[[Any, Dress], Any]

_shapes: dict[Dress, dict[str, Any]] = {}  # parts of the last sitter and elements in each dress


def scene_nodes(stage: Stage, emission: Emission) -> Node:
    """The whole set but for sensor and integrator; light k has the id `light_<k>`.

    The order is that of the set: a seed gives the same picture in every process.
    """
    nodes: Node = {"type": "scene"}
    for k, front in enumerate(stage.fronts):
        nodes |= light_nodes(front, k, emission if front.name in stage.emitting else None)
    for k, sheet in enumerate(stage.sheets):
        nodes[f"sheet_{k}"] = sheet_node(sheet, k)
    return nodes | _built(stage, lenses=False)


def forget_parts(dress: Dress) -> None:
    """Let go of the sitter and the elements in a dress."""
    _shapes.pop(dress, None)


def _built(stage: Stage, lenses: bool) -> Node:
    """The parts that outlive a scene: moving a light builds none of them again.

    Kernels name every part that is alive, so those of another sitter in the same dress go first.
    """
    parts = {digest((part, stage.dress)): (name, part, how) for name, part, how in _parts(stage)}
    kept = _shapes.setdefault(stage.dress, {})
    for key in kept.keys() - parts.keys():
        del kept[key]
    nodes: Node = {}
    for key, (name, part, how) in parts.items():
        if lenses == (isinstance(part, Surface) and isinstance(part.material, Glass)):
            if key not in kept:
                kept[key] = how(part, stage.dress)
            nodes[name] = kept[key]
    return nodes


def _parts(stage: Stage) -> list[tuple[str, Any, Build]]:
    """Sitter and elements: name, data and how to build each."""
    parts: list[tuple[str, Any, Build]] = []
    if stage.body:
        parts += [(f"body_{each.name}", each, body_surface) for each in stage.body.surfaces]
        if stage.dress == "real":
            for strands in stage.body.strands:
                fewer = thinned(strands, stage.strand_share)
                parts.append((f"body_{strands.name}", fewer, body_strands))
    for k, cloud in enumerate(stage.elements):
        if cloud.kind != "dust":  # which has no shapes: see `trace.haze`
            parts.append((f"element_{k}", cloud, particles))
    return parts


def moved_parts(before: Stage, now: Stage) -> Node | None:
    """New places of the sitter's parts, by the tracer's names; None where more than that differs.

    The kept shapes count as those of the second stage from here on: whoever asks has to move them.
    """
    were, parts = _parts(before), _parts(now)
    if len(were) != len(parts):
        return None
    found: Node = {}
    keys: dict[str, str] = {}
    for (_, was, _), (name, part, _) in zip(were, parts, strict=True):
        old, new = digest((was, before.dress)), digest((part, now.dress))
        if old != new:
            places = _moved(was, part)
            if places is None:
                return None
            found |= {f"{name}.{each}": value for each, value in places.items()}
            keys[old] = new
    kept = _shapes.setdefault(now.dress, {})
    _shapes[now.dress] = {keys.get(key, key): shape for key, shape in kept.items()}
    return found


def _moved(was: Any, part: Any) -> Node | None:
    """New places of a part that is the same one in all else."""
    if isinstance(was, Surface) and isinstance(part, Surface):
        there = replace(was, vertices=part.vertices, normals=part.normals)
        if digest(there) == digest(part) and was.vertices.shape == part.vertices.shape:
            positions, normals = (np.asarray(a, np.float32) for a in (part.vertices, part.normals))
            return {"vertex_positions": positions.ravel(), "vertex_normals": normals.ravel()}
    if isinstance(was, Strands) and isinstance(part, Strands):
        lying = replace(was, points=part.points)
        if digest(lying) == digest(part) and was.points.shape == part.points.shape:
            return {"control_points": at_round_address(_controls(part).ravel())}
    return None


def _controls(strands: Strands) -> Any:
    """Points and radii (n, k, 4) float32 [m]."""
    return np.concatenate([strands.points, strands.radii[..., None]], -1).astype(np.float32)


def lens_nodes(stage: Stage) -> Node:
    """The clear sheets of the sitter; they are worn in the real dress only."""
    if stage.body is None or stage.dress != "real":
        return {}
    return _built(stage, lenses=True)


def skin_of(stage: Stage) -> Surface | None:
    """The skin that light may go under, in the real dress."""
    if stage.body is None or stage.dress != "real":
        return None
    skins = [s for s in stage.body.surfaces if isinstance(s.material, Skin)]
    return skins[0] if skins else None


def sheet_node(sheet: Sheet, k: int) -> Any:
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


def body_strands(strands: Strands, _: Dress) -> Any:
    """Hair as chains of cones. The tracer reads curves from a file only."""
    controls = _controls(strands)
    if str(mi.variant()).startswith("scalar"):
        return _curves(controls, strands)
    # A stub to be filled from memory: much faster than text, but the plain engine refuses it.
    shape = _curves(np.array([[[0, 0, 0, 1e-3], [0, 1, 0, 1e-3]]], np.float32), strands)
    count, knots, _four = controls.shape
    first = np.arange(count, dtype=np.uint32)[:, None] * knots
    parameters: Any = mi.traverse(shape)
    parameters["control_point_count"] = count * knots
    parameters["control_points"] = at_round_address(controls.ravel())
    parameters["segment_indices"] = (first + np.arange(knots - 1, dtype=np.uint32)).ravel()
    parameters.update()
    return shape


def particles(cloud: Cloud, _: Dress) -> Any:
    """All particles of an element as one mesh, smooth but for grains.

    Facets of a convex grain that may be turned in any way shine on the mean exactly as its sphere
    does; smoothed over so few triangles they would not.
    """
    vertices, smooth, triangles = cloud_mesh(cloud)
    normals = None if cloud.kind == "grains" else smooth
    material = particle_material(cloud)
    return mesh(f"element_{cloud.name}", vertices, triangles, material, normals=normals)


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
