"""One set for two renderers: a sitter without hair, plain boxes, a dark or a white room."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from render.emission import Front
from render.emission.front import RECTANGLE
from render.emission.solids import housing
from render.layout import Layout, place
from render.layout.placed import Sheet, View
from render.layout.sweep import sheet_mesh
from render.photometry.fresnel import diffuse_external, reflected
from render.scenefile import load_scene
from render.sitter.body import Cloth, Glass, Painted, Skin, Surface
from render.trace.stage import Dress, Stage, stage_of

SCENE = "violin-two-lights"
ROOMS = {"dark studio": 0.03, "white room": 0.85}  # reflectance of walls, ceiling and floor
BLACK = (0.0, 0.0, 0.0)
CLOTH_IOR = 1.33  # mirrors 2 % head-on: 0.08 x the specular 0.25 of our cloth

Part = dict[str, Any]  # arrays and colours of one mesh


def plain_layout() -> Layout:
    """The bundled scene without hair, its fronts even rectangles that obey the cosine law."""
    setup = load_scene(SCENE)
    scene = setup.scene
    bald = scene.sitter.model_copy(update={"hair": "bald"})
    layout = place(replace(setup, scene=scene.model_copy(update={"sitter": bald})))
    body = layout.body
    assert body is not None
    solid = tuple(map(_smooth, (s for s in body.surfaces if not isinstance(s.material, Glass))))
    skinned = replace(body, surfaces=solid, strands=(), version=f"{body.version}-skin")
    return replace(layout, body=skinned, fronts=tuple(map(_plain, layout.fronts)))


def _smooth(surface: Surface) -> Surface:
    """Without relief and sheen, which others model in their own ways."""
    flat = np.zeros((2, 2), np.float32)
    match surface.material:
        case Skin():
            return replace(surface, material=replace(surface.material, relief_m=flat))
        case Cloth():
            return replace(surface, material=replace(surface.material, relief_m=flat, sheen=0.0))
    return surface


def _plain(front: Front) -> Front:
    return replace(front, shape=RECTANGLE, edge_falloff_stops=0.0, recess_m=0.0, cells=None)


def painted(layout: Layout, reflectance: float) -> Layout:
    """The same with the whole room in one grey."""
    grey = (reflectance,) * 3
    sheets = tuple(
        replace(s, reflectance=grey, back_reflectance=grey) if s.kind == "wall" else s
        for s in layout.sheets
    )
    return replace(layout, sheets=sheets)


def stage_for(layout: Layout, surface: str) -> Stage:
    """What is traced; surface: "matte" (all Lambert's, in its own colours) or "gloss"."""
    return stage_of(layout, "plain" if surface == "matte" else "real")


def export(layout: Layout, stage: Stage, file: Path) -> None:
    """Write meshes, lights and camera as plain arrays (.npz) for an interpreter without us."""
    assert layout.view is not None
    assert layout.body is not None
    parts = [_sheet(sheet) for sheet in layout.sheets]
    parts += [_surface(surface, stage.dress) for surface in layout.body.surfaces]
    parts += [_housing(front) for front in layout.fronts]
    arrays, told = {}, []
    for k, part in enumerate(parts):
        arrays |= {f"{k}_{key}": v for key, v in part.items() if isinstance(v, np.ndarray)}
        told.append({key: v for key, v in part.items() if not isinstance(v, np.ndarray)})
    about = {
        "parts": told,
        "lights": [_light(front) for front in layout.fronts],
        "camera": _camera(layout.view),
        # Bounces between the first surface that is seen and the one that a light shines on.
        "bounces": stage.max_depth - 2,
    }
    np.savez(file, about=np.array(json.dumps(about)), **arrays)


def _sheet(sheet: Sheet) -> Part:
    vertices, normals, triangles = sheet_mesh(sheet)
    return _mesh(vertices, triangles, normals) | {
        "front": sheet.reflectance,
        "back": sheet.back_reflectance,
    }


def _surface(surface: Surface, dress: Dress) -> Part:
    """Skin and eyes are painted on their outside only, cloth on both sides."""
    part = _mesh(surface.vertices, surface.triangles, surface.normals)
    material = surface.material
    assert not isinstance(material, Glass)
    part |= _gloss(material) if dress == "real" else {}
    if isinstance(material, Cloth):
        return part | {"front": material.colour, "back": material.colour}
    paint = _albedo(material, dress) if isinstance(material, Skin) else material.colour
    return part | {
        "uv": np.asarray(surface.uv, np.float32),
        "paint": _map(paint),
        "repeats": isinstance(material, Skin),
        "front": BLACK,
        "back": BLACK,
    }


def _albedo(skin: Skin, dress: Dress) -> Any:
    """Under gloss their body gives the paint less the mirrored share; ours, head-on, this more."""
    if dress != "real":
        return skin.albedo
    index = skin.refractive_index
    let_in = 1 - float(reflected(1.0, index))
    return np.asarray(skin.albedo, np.float32) * (let_in / (1 - diffuse_external(index)) ** 2)


def _gloss(material: Skin | Painted | Cloth) -> Part:
    """Roughness by its square is GGX's alpha."""
    if isinstance(material, Skin):
        return {"gloss": {"ior": material.refractive_index}, "roughness": _map(material.roughness)}
    if isinstance(material, Painted):
        rough = math.sqrt(material.roughness)
        return {"gloss": {"ior": material.refractive_index, "roughness": rough}}
    return {"gloss": {"ior": CLOTH_IOR, "roughness": material.roughness}}


def _map(values: Any) -> Any:
    """Row 0 at v = 0."""
    return np.asarray(values, np.float32)[::-1].copy()


def _housing(front: Front) -> Part:
    vertices, triangles = housing(front)
    return _mesh(vertices, triangles) | {"front": BLACK, "back": BLACK}


def _mesh(vertices: Any, triangles: Any, normals: Any = None) -> Part:
    part: Part = {
        "vertices": np.asarray(vertices, np.float32),
        "triangles": np.asarray(triangles, np.int32),
    }
    return part if normals is None else part | {"normals": np.asarray(normals, np.float32)}


def _light(front: Front) -> dict[str, Any]:
    return {
        "matrix": _matrix(front.right, -front.up, -front.normal, front.centre_m),
        "size_m": [front.width_m, front.height_m],
        "energy": front.luminous_energy_lm_s,
    }


def _camera(view: View) -> dict[str, Any]:
    return {
        "matrix": _matrix(view.right, view.up, view.back, view.position_m),
        "focal_m": view.focal_length_m,
        # What a film at the focal length would have to be, to see the same field.
        "film_m": view.frame_width_m * view.focal_length_m / view.image_m,
        "f_number": view.f_number,
        "focus_m": view.focus_m,
    }


def _matrix(x: Any, y: Any, z: Any, origin: Any) -> list[list[float]]:
    """Room from local, as rows."""
    rows = np.eye(4)
    rows[:3] = np.stack([x, y, z, origin], -1)
    return [[float(v) for v in row] for row in rows]
