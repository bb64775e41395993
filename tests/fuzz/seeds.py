"""Whole files that are then changed at random: the bundled ones, and small ones made here."""

from __future__ import annotations

import io
import json
import struct
from functools import cache
from pathlib import Path

import numpy as np
import OpenEXR
import tifffile
import trimesh
from PIL import Image, ImageCms

from render.folders import data_folder
from tests.unit.emission.lamp_files import cosine, eulumdat, lm63
from tests.unit.page.scenes import STOOL

SIDE = 12  # pixels of a picture
HEADS = data_folder("meshes")


@cache
def scenes() -> tuple[bytes, ...]:
    """Bundled scenes and sets, and one in the void that needs no sitter."""
    folder = data_folder("scenes")
    files = [*sorted(folder.glob("*.toml")), *sorted(folder.glob("lessons/sets/*.toml"))]
    return (STOOL.encode(), *(file.read_bytes() for file in files))


def seated() -> tuple[bytes, ...]:
    """Bundled scenes that have a sitter."""
    return tuple(text for text in scenes() if b"[sitter]" in text)


@cache
def kits() -> tuple[bytes, ...]:
    """Bundled kit files, and one with a reading."""
    read = (
        '[[reading]]\nflash = "monobloc-400"\nmodifier = "softbox-60x90"\ndistance_m = 1.5\n'
        "f_number = 8\niso_speed = 100\n"
    )
    found = [file.read_bytes() for file in sorted(data_folder("scenes").glob("kit/*.toml"))]
    return (read.encode(), *found)


TOML_READINGS = b"""\
[[read]]
point = "stool"
light = "key"
f_number = "22 +0.3"
receptor = "flat"
aim = "light"
power = "1/4"
date = 2026-11-02

[[read]]
distance_m = 1.2
light = "key"
f_number = "16 +0.2"

[point.lap]
position_m = [0, 0.8, 0.2]
facing = "camera"
"""
CSV_READINGS = b"point,light,f_number,iso_speed\nstool,key,22 +0.3,100\nstool,all,,\n"
RECIPE = b"""\
look = "look.png"
out = "made.png"
black_code = 3

[[element]]
file = "dust.png"
plates = ["plate.png"]
gain_stops = 0.5
at = [0.4, 0.6]
scale = 0.5
turn_deg = 30
matte = "light"

[[element.region]]
points = [[0.1, 0.1], [0.9, 0.1], [0.5, 0.9]]
line = "curve"
feather = 0.1

[[element]]
file = "dust.exr"
way = "screen"
flip = "both"
"""
PLAIN_RECIPE = b"""\
look = "look.png"
out = "made.png"

[[element]]
file = "dust.png"
gain_stops = 0.5
at = [0.4, 0.6]
scale = 0.5
turn_deg = 30
"""


NEAR = """\
title = "Nearer"
scene = "stool.toml"
exposure = "kept"
look_for = ["The edge.", "The backdrop."]
show = ["face", "falloff"]
"""


@cache
def lessons() -> tuple[bytes, ...]:
    """A lesson over a small set, and the bundled ones."""
    files = sorted(data_folder("scenes").glob("lessons/*.toml"))
    own = f'{NEAR}vary = ["light.key.distance_m=0.7,1,1.4", "light.key.power=1/4,1/8"]\n'
    return (own.encode(),) * 8 + tuple(file.read_bytes() for file in files)


@cache
def lamps() -> tuple[bytes, ...]:
    """Photometric files in both formats; the bundled ones too."""
    planes = np.arange(0, 360, 45.0)
    made = [
        lm63(),
        lm63(horizontals=(0.0, 45.0, 90.0), tilt="TILT=INCLUDE\n1\n3\n0 45 90\n1 1 1"),
        lm63(verticals=np.arange(-90, 91, 15.0), horizontals=np.arange(-90, 91, 30.0), kind=2),
        eulumdat(cosine),
        eulumdat(cosine, planes, planes, symmetry=0),
    ]
    folder = data_folder("scenes") / "kit" / "beams"
    return (*(text.encode() for text in made), *(f.read_bytes() for f in sorted(folder.iterdir())))


@cache
def meshes() -> tuple[tuple[str, bytes], ...]:
    """A ball of 320 triangles in every format, plain, painted and textured."""
    ball = trimesh.creation.icosphere(subdivisions=2, radius=0.11)
    painted = ball.copy()
    painted.visual.vertex_colors = np.full((len(ball.vertices), 4), 200, np.uint8)
    found = []
    for kind in ("obj", "ply", "stl", "glb"):
        data = painted.export(file_type=kind) if kind != "stl" else ball.export(file_type=kind)
        found.append((kind, data.encode() if isinstance(data, str) else data))
    found.append(("stl", ball.export(file_type="stl_ascii").encode()))
    found.append(("ply", ball.export(file_type="ply", encoding="ascii")))
    text = "mtllib skin.mtl\nusemtl skin\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\n"
    found.append(("obj", (text + "f 1/1 2/2 3/3\n").encode()))
    found += [("gltf", json.dumps(_gltf(embedded)).encode()) for embedded in (False, True)]
    return tuple(found)


def _gltf(embedded: bool) -> dict[str, object]:
    import base64

    corners = base64.b64encode(np.eye(3, dtype=np.float32).tobytes() + bytes(24)).decode()
    picture = base64.b64encode(encoded("PNG")).decode()
    uri = f"data:image/png;base64,{picture}" if embedded else "skin.png"
    return {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "children": [], "scale": [1, 1, 1]}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "material": 0}]}],
        "materials": [{"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}],
        "textures": [{"source": 0}],
        "images": [{"uri": uri}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
        "bufferViews": [{"buffer": 0, "byteLength": 36, "byteOffset": 0}],
        "buffers": [{"uri": f"data:application/octet-stream;base64,{corners}", "byteLength": 60}],
    }


SKIN_MTL = b"newmtl skin\nKd 0.8 0.6 0.5\nmap_Kd skin.png\n"


def encoded(kind: str, mode: str = "RGB", **said: object) -> bytes:
    """A small picture."""
    codes = np.arange(SIDE * SIDE * 3, dtype=np.uint8).reshape(SIDE, SIDE, 3)
    out = io.BytesIO()
    Image.fromarray(codes).convert(mode).save(out, kind, **said)
    return out.getvalue()


@cache
def pictures() -> tuple[bytes, ...]:
    """PNG, JPEG, TIFF and EXR of several depths, with profile, orientation, transparency."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    exif = Image.Exif()
    exif[0x0112] = 6
    found = [
        encoded("PNG", icc_profile=profile),
        encoded("PNG", "RGBA"),
        encoded("PNG", "P"),
        encoded("PNG", "1"),
        encoded("JPEG", exif=exif, icc_profile=profile),
        encoded("JPEG", "L", progressive=True),
        _deep_png(),
    ]
    deep = np.arange(SIDE * SIDE * 3, dtype=np.uint16).reshape(SIDE, SIDE, 3) * 99
    for values, said in (
        (deep, {"compression": "zlib", "iccprofile": profile}),
        (deep.astype(np.uint8), {"compression": "lzw", "tile": (16, 16)}),
        (deep.astype(np.float32), {"planarconfig": "contig"}),
        (np.moveaxis(deep, -1, 0), {"planarconfig": "separate"}),
    ):
        out = io.BytesIO()
        tifffile.imwrite(out, values, photometric="rgb", **said)
        found.append(out.getvalue())
    return (*found, *_exrs())


def _deep_png() -> bytes:
    import imagecodecs

    deep = np.arange(SIDE * SIDE * 3, dtype=np.uint16).reshape(SIDE, SIDE, 3) * 99
    return bytes(imagecodecs.png_encode(deep))


def _exrs() -> list[bytes]:
    import tempfile

    light = np.linspace(0, 4, SIDE * SIDE * 3, dtype=np.float32).reshape(SIDE, SIDE, 3)
    found = []
    for packing in (OpenEXR.NO_COMPRESSION, OpenEXR.ZIP_COMPRESSION, OpenEXR.PIZ_COMPRESSION):
        for values in (light, light.astype(np.float16)):
            header = {"compression": packing, "type": OpenEXR.scanlineimage}
            with tempfile.TemporaryDirectory() as folder:
                file = Path(folder) / "one.exr"
                OpenEXR.File(header, {"RGB": values}).write(str(file))
                found.append(file.read_bytes())
    return found


def bomb_png(side: int = 60000) -> bytes:
    """A PNG that promises more pixels than any camera has."""
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        sum_ = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + sum_

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(1_000_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
