"""Heads in files as scanners, exporters and hostile people leave them."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from PIL import Image

from render.sitter import Wishes, build_body
from tests.fuzz import seeds
from tests.fuzz.mutate import spoilt

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
GRID_M = 0.004  # spacing of the scan
CUT_M = -0.15  # under the eyes: through the neck
SPOILT = 0.15  # of the files, byte by byte
BESIDE = (  # what a mesh names beside itself
    *("skin.png", "gone.png", "../skin.png", "/etc/passwd", "file:///etc/passwd", "a\nb.png", ""),
    *("http://127.0.0.1/a.png", "loop.png", "pipe.png", "folder", "\u202egnp.png", "x" * 5000),
)


@cache
def scan() -> tuple[Floats, Ints, dict[str, Floats]]:
    """A bald head of ours as a coarse scan: vertices [m], triangles, landmarks."""
    wishes = Wishes(model="alma", hair="bald")
    body = build_body(wishes, data_dir=seeds.HEADS, gaze_m=None, strand_count=0, map_width=64)
    skin = body.surfaces[0]
    cell = np.round(skin.vertices / GRID_M).astype(int)
    _, first, place = np.unique(cell, axis=0, return_index=True, return_inverse=True)
    vertices, triangles = skin.vertices[first].astype(float), place.ravel()[skin.triangles]
    whole = (triangles != np.roll(triangles, 1, 1)).all(1)
    triangles = triangles[whole & (vertices[triangles][:, :, 1] > CUT_M).all(1)]
    marks = {name: np.asarray(each.position_m) for name, each in body.landmarks.items()}
    return vertices, triangles.astype(np.int64), marks


def ruined(rng: Random, folder: Path) -> tuple[str, str]:
    """Write a head, changed, with what it names; the kind of its file, and keys of its sitter."""
    vertices, triangles, marks = scan()
    chance = np.random.default_rng(rng.randrange(1 << 30))
    for _ in range(rng.choice((0, 0, 1, 1, 2))):
        vertices, triangles = rng.choice(RUINS)(chance, vertices, triangles)
    kind = rng.choice(("ply", "obj", "stl", "glb", "gltf"))
    mesh = trimesh.Trimesh(vertices, triangles, process=False)
    if kind != "stl" and rng.random() < 0.5:
        _painted(rng, chance, mesh)
    _write(rng, folder, mesh, kind)
    return kind, _keys(rng, chance, marks)


def _write(rng: Random, folder: Path, mesh: trimesh.Trimesh, kind: str) -> None:
    (folder / "loop.png").symlink_to("loop.png")
    (folder / "folder").mkdir()
    done = mesh.export(file_type=kind)
    files = done if isinstance(done, dict) else {f"head.{kind}": done}
    for name, data in files.items():
        data = data.encode() if isinstance(data, str) else data
        name = f"head.{kind}" if name.endswith((".gltf", f".{kind}")) else name
        if name.endswith(".gltf") and rng.random() < 0.3:
            data = _named_elsewhere(rng, data)
        if name == f"head.{kind}" and rng.random() < SPOILT:
            data = spoilt(rng, data, [data])
        (folder / name).write_bytes(data)
    if kind == "obj" and rng.random() < 0.5:
        text = (folder / "head.obj").read_bytes()
        (folder / "head.obj").write_bytes(b"mtllib skin.mtl\nusemtl skin\n" + text)
        if rng.random() < 0.7:
            said = f"newmtl skin\nKd {rng.choice(('0.8 0.6 0.5', 'nan 1 1', '9e99 0 0', 'a'))}\n"
            beside = f"map_Kd {rng.choice(BESIDE)}\n"
            (folder / "skin.mtl").write_text(said + beside, "utf-8", "surrogatepass")
    (folder / "skin.png").write_bytes(_odd_picture(rng))


def _named_elsewhere(rng: Random, data: bytes) -> bytes:
    tree = json.loads(data)
    for each in (*tree.get("buffers", ()), *tree.get("images", ())):
        if rng.random() < 0.6:
            each["uri"] = rng.choice(BESIDE)
    return json.dumps(tree).encode()


def _keys(rng: Random, chance: np.random.Generator, marks: dict[str, Floats]) -> str:
    """Keys of the sitter; mostly right ones."""
    lines = [f'mesh_unit = "{rng.choice(("m", "m", "m", "m", "mm", "in", "dm"))}"']
    if rng.random() < 0.2:
        lines.append(f'mesh_up = "{rng.choice(("x", "-y", "z", "y"))}"')
    if rng.random() < 0.2:
        lines.append(f'mesh_faces = "{rng.choice(("x", "-z", "y", "z"))}"')
    if rng.random() < 0.4:
        odd = rng.choice((0, 0, 0, 0.01, 1.0, 1e6))
        places = ", ".join(
            f"{name} = {np.round(marks[name] + odd * chance.normal(size=3), 5).tolist()}"
            for name in ("nose_tip", "chin", "forehead")
        )
        lines.append(f"landmarks = {{ {places} }}")
    if rng.random() < 0.3:
        lines.append(f"skin_reflectance = {rng.choice((0.05, 0.3, 0.6))}")
    return "\n".join(lines)


def _painted(rng: Random, chance: np.random.Generator, mesh: trimesh.Trimesh) -> None:
    """Colours of vertices or triangles, or a picture laid on by coordinates that may be none."""
    if rng.random() < 0.4:
        codes = chance.integers(0, 256, (len(mesh.vertices), 4), np.uint8)
        mesh.visual = trimesh.visual.ColorVisuals(mesh, vertex_colors=codes)
        return
    uv = chance.random((len(mesh.vertices), 2))
    if rng.random() < 0.4:
        uv[chance.random(len(uv)) < 0.3] = rng.choice((np.nan, np.inf, 1e30, -5.0, 1e-300))
    picture = Image.open(io.BytesIO(_whole_picture(rng)))
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, image=picture)


def _whole_picture(rng: Random) -> bytes:
    """A picture of some odd kind that opens."""
    mode = rng.choice(("L", "P", "1", "RGBA", "LA", "I;16", "RGB", "CMYK"))
    side = rng.choice((1, 2, 16))
    codes = np.full((side, 3 * side, 3), 140, np.uint8)
    image = Image.fromarray(codes)
    image = image.convert("I").convert("I;16") if mode == "I;16" else image.convert(mode)
    out = io.BytesIO()
    image.save(out, "TIFF" if mode == "CMYK" else "PNG")
    return out.getvalue()


def _odd_picture(rng: Random) -> bytes:
    data = rng.choice((_whole_picture(rng), seeds.bomb_png(), b"", b"GIF89a"))
    return spoilt(rng, data, [data]) if rng.random() < 0.3 else data


def _scaled(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    return v * chance.choice([1e-9, 1e-3, 0.1, 0.8, 1.3, 10, 1e3, 1e9, -1]), t


def _flat(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    sides = np.ones(3)
    sides[chance.integers(3)] = chance.choice([0, 1e-12, 1e-3, 0.5, 3])
    return v * sides, t


def _unnumbered(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    v = v.copy()
    v[chance.integers(len(v), size=3)] = chance.choice([np.nan, np.inf, 1e30, 1e5, 50.0])
    return v, t


def _holed(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    return v, t[chance.random(len(t)) > chance.choice([0.01, 0.1, 0.5, 0.9, 0.999])]


def _collapsed(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    t = t.copy()
    some = chance.random(len(t)) < chance.choice([0.05, 0.5, 1.0])
    t[some, 1] = t[some, 0]
    return v, t


def _turned(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    """Some triangles, or all of them, inside out; or twice."""
    some = chance.random(len(t)) < chance.choice([0.1, 0.5, 1.0])
    return v, np.concatenate([t, t[some][:, ::-1]]) if chance.random() < 0.5 else np.where(
        some[:, None], t[:, ::-1], t
    )


def _crumbled(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    """Thousands of parts: every triangle alone, or crumbs around the head."""
    if chance.random() < 0.5:
        return v[t].reshape(-1, 3), np.arange(3 * len(t)).reshape(-1, 3)
    crumbs = 4000
    at = chance.normal(scale=chance.choice([0.1, 3.0]), size=(crumbs, 1, 3))
    corners = (at + chance.normal(scale=0.002, size=(crumbs, 3, 3))).reshape(-1, 3)
    more = np.arange(3 * crumbs).reshape(-1, 3) + len(v)
    return np.concatenate([v, corners]), np.concatenate([t, more])


def _rough(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    return v + chance.normal(scale=chance.choice([1e-3, 5e-3, 0.05]), size=v.shape), t


def _moved(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    return v[:, chance.permutation(3)] + chance.choice([0, 0.5, 100, 1e7]), t


def _few(chance: np.random.Generator, v: Floats, t: Ints) -> tuple[Floats, Ints]:
    return v, t[: chance.choice([0, 1, 2, 3, 50])]


RUINS: tuple[Callable[[Any, Floats, Ints], tuple[Floats, Ints]], ...] = (
    *(_scaled, _flat, _unnumbered, _holed, _collapsed, _turned, _crumbled, _rough, _moved, _few),
)
