"""Read a mesh file in a process of its own, so that a hostile one can break nothing else.

`python -m render.sitter.own.reader MESH OUT.npz` writes the parts, or prints what is wrong as two
lines and ends with code 2. Memory and time are bounded; see `read_parts` for the other side.
"""

from __future__ import annotations

import io
import logging
import sys
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from render.photometry.srgb import srgb_decode
from render.sitter.arrays import Array
from render.sitter.own.beside import MOST_PIXELS, named_files
from render.sitter.own.declared import MOST_BYTES, check_counts, check_declared
from render.sitter.own.parts import Part, save_parts
from render.sitter.own.wish import MeshFault

MEMORY_BYTES = 4_000_000_000  # address space; a text file at the limits needs about 1 GB of it
READING_S = 60  # of processor time; a file at the limits takes about half of it
MOST_PARTS = 64
MOST_UV = 1e4  # times round a picture; a coordinate beyond, or one that is none, is damage
TEXTURE_SIDE = 2048  # texels; larger pictures are averaged down, as wide as our own skin maps
WRONG = 2  # exit code for a mesh that cannot be used
_CODES = srgb_decode(np.arange(256) / 255).astype(np.float32)


def main() -> int:
    """The program; returns its exit code."""
    mesh, out = Path(sys.argv[1]), Path(sys.argv[2])
    _bound()
    try:
        check_declared(mesh)
        named = named_files(mesh)
        save_parts(out, _read(mesh, named.contents))
    except MeshFault as fault:
        print(f"{fault.found}\n{fault.accepted}")
        return WRONG
    except MemoryError:
        accepted = f"a mesh that needs less than {MEMORY_BYTES // 1_000_000_000} GB"
        print(f"{mesh.name} takes too much memory\n{accepted}")
        return WRONG
    print("\n".join(named.missing))
    return 0


def _bound() -> None:
    """No more memory than stated, no chatter from the libraries."""
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.simplefilter("ignore")
    logging.disable(logging.CRITICAL)
    if sys.platform != "win32":
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CPU, (READING_S, READING_S))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _read(mesh: Path, contents: dict[str, bytes]) -> list[Part]:
    """The parts of a mesh whose declared counts are bearable; raises MeshFault."""
    import trimesh

    kind = mesh.suffix.lower().lstrip(".")
    try:
        # The reader gets bytes and may open nothing itself.
        scene = trimesh.load_scene(
            io.BytesIO(mesh.read_bytes()), file_type=kind, resolver=contents, process=False
        )
        meshes = _placed(mesh.name, scene)
        parts = [_part(each, kind in ("glb", "gltf")) for each in meshes]
    except (MeshFault, MemoryError):
        raise
    except Exception as problem:  # whatever a reader stumbles over in a broken file
        reason = " ".join(str(problem).split())[:80] or type(problem).__name__
        found = f"{mesh.name} cannot be read: {reason}"
        raise MeshFault(found, f"a whole {kind.upper()} file") from None
    parts = [part for part in parts if len(part.triangles)]
    if not parts:
        raise MeshFault(f"{mesh.name} has no triangles", "a surface, not points or lines")
    for part in parts:
        _check(mesh.name, part)
    return parts


def _placed(name: str, scene: Any) -> list[Any]:
    """Meshes where the scene puts them, those of one material joined."""
    import trimesh

    triangles = vertices = 0
    placed: dict[Any, list[Any]] = {}
    for node in scene.graph.nodes_geometry:
        transform, key = scene.graph[node]
        geometry = scene.geometry[key]
        if not isinstance(geometry, trimesh.Trimesh):
            continue
        triangles, vertices = triangles + len(geometry.faces), vertices + len(geometry.vertices)
        check_counts(name, triangles, vertices)
        copy = geometry.copy()
        copy.apply_transform(transform)
        material = getattr(copy.visual, "material", None)
        drawn = getattr(geometry.visual, "material", None)
        same = id(drawn) if material is not None else copy.visual.kind
        placed.setdefault(same, []).append(copy)
    if len(placed) > MOST_PARTS:
        raise MeshFault(f"{name} has {len(placed)} materials", f"at most {MOST_PARTS}")
    return [group[0] if len(group) == 1 else _joined(group) for group in placed.values()]


def _joined(group: list[Any]) -> Any:
    """One mesh of several with the same material; the first one's material stays."""
    import trimesh

    offsets = np.cumsum([0, *(len(mesh.vertices) for mesh in group)])
    faces = [mesh.faces + offset for mesh, offset in zip(group, offsets, strict=False)]
    whole = trimesh.Trimesh(
        np.concatenate([mesh.vertices for mesh in group]), np.concatenate(faces), process=False
    )
    kind = group[0].visual.kind
    if kind == "texture" and all(mesh.visual.uv is not None for mesh in group):
        uv = np.concatenate([mesh.visual.uv for mesh in group])
        whole.visual = trimesh.visual.TextureVisuals(uv=uv, material=group[0].visual.material)
    elif kind == "vertex":
        colours = np.concatenate([mesh.visual.vertex_colors for mesh in group])
        whole.visual = trimesh.visual.ColorVisuals(whole, vertex_colors=colours)
    return whole


def _part(mesh: Any, linear: bool) -> Part:
    """A part with its colours in linear light; glTF holds all but pictures linear already."""
    if mesh.visual.kind == "face":
        colours = np.repeat(mesh.visual.face_colors, 3, axis=0)
        triangles = np.arange(3 * len(mesh.faces)).reshape(-1, 3)
        return Part(mesh.vertices[mesh.faces].reshape(-1, 3), triangles, colours=_light(colours))
    vertices, triangles = np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64)
    if mesh.visual.kind == "vertex":
        codes = np.asarray(mesh.visual.vertex_colors)
        colours = (codes[:, :3] / 255).astype(np.float32) if linear else _light(codes)
        return Part(vertices, triangles, colours=colours)
    material = getattr(mesh.visual, "material", None)
    picture = getattr(material, "baseColorTexture", None) or getattr(material, "image", None)
    factor = getattr(material, "baseColorFactor", None) if linear else None
    plain = None if factor is None else np.asarray(factor)[:3] / 255
    if plain is None and not linear and material is not None:
        plain = _light(np.asarray(material.main_color)[None])[0]
    uv = getattr(mesh.visual, "uv", None)
    uv = None if uv is None or np.ndim(uv) != 2 or np.shape(uv)[1] < 2 else np.asarray(uv)[:, :2]
    if picture is not None and uv is not None and len(uv) == len(vertices):
        texture = _texture(picture) * (1.0 if factor is None or plain is None else plain)
        uv = np.where(np.abs(uv) <= MOST_UV, uv, 0.0)
        return Part(vertices, triangles, uv, texture.astype(np.float32))
    colour = None if plain is None else (float(plain[0]), float(plain[1]), float(plain[2]))
    return Part(vertices, triangles, plain=colour)


def _light(codes: Array) -> Array:
    """Linear colours (n, 3) of 8-bit sRGB codes (n, 3 or 4)."""
    return np.asarray(_CODES[np.asarray(codes, np.uint8)[:, :3]])


def _texture(picture: Any) -> Array:
    """A picture in linear light (h, w, 3), averaged down to TEXTURE_SIDE at most."""
    codes = np.asarray(picture.convert("RGB"))
    step = -(-max(codes.shape[:2]) // TEXTURE_SIDE)
    rows, columns = (max(1, side // step) for side in codes.shape[:2])
    step_y, step_x = min(step, codes.shape[0]), min(step, codes.shape[1])
    out = np.empty((rows, columns, 3), np.float32)
    for i in range(rows):  # row by row: the whole picture in linear light would take four times
        strip = _CODES[codes[i * step_y : (i + 1) * step_y, : columns * step_x]]
        out[i] = strip.reshape(step_y, columns, step_x, 3).mean((0, 2))
    return out


def _check(name: str, part: Part) -> None:
    """Finite numbers and valid corners; raises MeshFault."""
    triangles, count = part.triangles, len(part.vertices)
    if part.vertices.ndim != 2 or part.vertices.shape[1] != 3:
        raise MeshFault(f"{name} has vertices that are not in space", "three coordinates each")
    if triangles.min() < 0 or triangles.max() >= count:
        raise MeshFault(f"{name} has triangles between vertices that it lacks", "a whole file")
    wrong = int((~np.isfinite(part.vertices)).any(1).sum())
    if wrong:
        raise MeshFault(f"{name} has {wrong:,} vertices that are no numbers", "finite coordinates")
    if np.abs(part.vertices).max() > MOST_BYTES:
        raise MeshFault(f"{name} reaches {np.abs(part.vertices).max():.3g}", "a head's coordinates")


if __name__ == "__main__":
    raise SystemExit(main())
