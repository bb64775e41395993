"""A broken or hostile mesh file gives one sentence: no crash, no hang, nothing read elsewhere."""

from __future__ import annotations

import base64
import gzip
import io
import json
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from render.errors import SceneError
from render.sitter.own.declared import MOST_TRIANGLES, MOST_WORDS
from tests.unit.sitter.own_heads import picture, read

BALL = trimesh.creation.icosphere(subdivisions=3, radius=0.11)
HEADER = "ply\nformat {}\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n"
LISTED = "element face {}\nproperty list uchar int vertex_indices\nend_header\n"


def saved(kind: str) -> bytes:
    data = BALL.export(file_type=kind)
    return data.encode() if isinstance(data, str) else data


def ply(form: str, vertices: object, faces: object, body: bytes = b"") -> bytes:
    return (HEADER.format(form, vertices) + LISTED.format(faces)).encode() + body


def glb(tree: object, binary: bytes = b"") -> bytes:
    """A GLB of a JSON tree (or of raw text) and a binary part."""
    text = tree if isinstance(tree, bytes) else json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    if binary:
        chunks += struct.pack("<I4s", len(binary), b"BIN\0") + binary
    return b"glTF" + struct.pack("<II", 2, 12 + len(chunks)) + chunks


def gltf(**more: Any) -> dict[str, Any]:
    """One triangle, with what the case needs."""
    data = base64.b64encode(np.zeros(9, np.float32).tobytes()).decode()
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
        "bufferViews": [{"buffer": 0, "byteLength": 36}],
        "buffers": [{"uri": f"data:application/octet-stream;base64,{data}", "byteLength": 36}],
    }
    return tree | more


def as_text(tree: object) -> bytes:
    return json.dumps(tree).encode()


def zipped() -> bytes:
    """Ten million zeros in some kilobytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("head.obj", b"\0" * 10_000_000)
    return out.getvalue()


def vast_picture() -> bytes:
    """A PNG header that promises 60000 x 60000 pixels, with a few bytes behind it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        sum_ = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + sum_

    size = struct.pack(">IIBBBBB", 60000, 60000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", size)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def with_nan() -> bytes:
    vertices = BALL.vertices.copy()
    vertices[7, 1] = np.nan
    return trimesh.Trimesh(vertices, BALL.faces, process=False).export(file_type="ply")


OBJ_BALL = saved("obj").decode()
IMAGE = {"images": [{"uri": "PLACE"}]}
VAST = base64.b64encode(vast_picture()).decode()
BILLION = 1_000_000_000

CASES: dict[str, tuple[str, bytes | Callable[[], bytes], str]] = {
    "empty": ("head.ply", b"", "is empty"),
    "another ending": ("head.fbx", b"Kaydara", "a file ending in .obj, .ply"),
    "no ply": ("head.ply", b"hello " * 100, "no PLY file"),
    "billion faces": ("head.ply", ply("ascii 1.0", 3, BILLION), "has 1,000,000,000 triangles"),
    "billion vertices": ("head.ply", ply("ascii 1.0", BILLION, 3), "has 1,000,000,000 vertices"),
    "count of 4000 digits": ("head.ply", ply("ascii 1.0", "9" * 4000, 3), "whole number of rows"),
    "negative count": ("head.ply", ply("ascii 1.0", -5, 3), "whole number of rows"),
    "promises more than it has": (
        "head.ply",
        ply("binary_little_endian 1.0", 1_000_000, 1_000_000, b"\0" * 99),
        "shorter than it says",
    ),
    "cut ply": ("head.ply", lambda: saved("ply")[:5000], "shorter than it says"),
    "list longer than the file": (
        "head.ply",
        ply("binary_little_endian 1.0", 1, 1, b"\0" * 12 + b"\xff" + b"\1" * 40),
        "head.ply",
    ),
    "corner beyond the last vertex": (
        "head.ply",
        ply("ascii 1.0", 3, 1, b"0 0 0\n1 0 0\n0 1 0\n3 0 1 99999\n"),
        "head.ply",
    ),
    "no numbers": ("head.ply", with_nan, "1 vertices that are no numbers"),
    "points only": ("head.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "head.obj"),
    "index out of range": ("head.obj", (OBJ_BALL + "\nf 1 2 999999\n").encode(), "head.obj"),
    "index zero and words": ("head.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf a b c\n", "head.obj"),
    "binary obj": ("head.obj", b"\0\1\2\3" * 500, "no OBJ file"),
    "triangles past counting": (
        "head.obj",
        lambda: b"v 0 0 0\nv 1 0 0\nv 0 1 0\n" + b"f 1 2 3\n" * (MOST_TRIANGLES + 1),
        "thin it first",
    ),
    "infinite": ("head.obj", OBJ_BALL.replace("v ", "v 1e999 0 0\nv ", 1).encode(), "no numbers"),
    "material elsewhere": (
        "head.obj",
        ("mtllib ../../etc/passwd\n" + OBJ_BALL).encode(),
        "outside of its folder",
    ),
    "material at the root": (
        "head.obj",
        ("mtllib /etc/passwd\n" + OBJ_BALL).encode(),
        "outside of its folder",
    ),
    "text called glb": ("head.glb", b"just some text, long enough to look at", "no GLB file"),
    "cut glb": ("head.glb", lambda: saved("glb")[:-2000], "shorter than it says"),
    "glb that promises text": (
        "head.glb",
        b"glTF"
        + struct.pack("<II", 2, 40)
        + struct.pack("<I4s", 4_000_000_000, b"JSON")
        + b"{}" * 10,
        "shorter than it says",
    ),
    "huge text in glb": (
        "head.glb",
        lambda: glb(b'{"asset":{},"x":[' + b"[]," * MOST_WORDS + b"[]]}"),
        "values in its text",
    ),
    "deep text in glb": ("head.glb", glb(b"[" * 100_000 + b"]" * 100_000), "no GLB file"),
    "no tree": ("head.gltf", b"[1, 2]", "no GLTF file"),
    "nothing in the tree": ("head.gltf", as_text({"asset": {"version": "2.0"}}), "head.gltf"),
    "billion in an accessor": (
        "head.gltf",
        as_text(gltf(accessors=[{"componentType": 5126, "count": BILLION, "type": "VEC3"}])),
        "has 1,000,000,000 vertices",
    ),
    "accessor of words": (
        "head.gltf",
        as_text(gltf(accessors=[{"componentType": 5126, "count": "3", "type": "VEC3"}])),
        "no glTF file",
    ),
    "lists of the wrong kind": (
        "head.gltf",
        as_text(gltf(meshes=7, nodes="x", buffers={"a": 1}, accessors=[None])),
        "head.gltf",
    ),
    "compressed": (
        "head.gltf",
        as_text(gltf(extensionsRequired=["KHR_draco_mesh_compression"])),
        "a plain glTF, not compressed",
    ),
    "buffer elsewhere": (
        "head.gltf",
        as_text(gltf(buffers=[{"uri": "../../etc/passwd", "byteLength": 36}])),
        "outside of its folder",
    ),
    "buffer elsewhere, disguised": (
        "head.gltf",
        as_text(gltf(buffers=[{"uri": "a/%2e%2e/%2E%2E/passwd", "byteLength": 36}])),
        "outside of its folder",
    ),
    "buffer on the net": (
        "head.gltf",
        as_text(gltf(buffers=[{"uri": "http://example.org/b.bin", "byteLength": 36}])),
        "outside of its folder",
    ),
    "buffer that is not there": (
        "head.gltf",
        as_text(gltf(buffers=[{"uri": "b.bin", "byteLength": 36}])),
        'no file "b.bin"',
    ),
    "picture elsewhere": (
        "head.gltf",
        as_text(gltf(images=[{"uri": "..\\..\\secret.png"}])),
        "outside of its folder",
    ),
    "picture bomb in the text": (
        "head.gltf",
        as_text(gltf(images=[{"uri": f"data:image/png;base64,{VAST}"}])),
        "at most 8192 x 8192",
    ),
    "picture bomb in glb": (
        "head.glb",
        lambda: glb(
            gltf(
                images=[{"bufferView": 1, "mimeType": "image/png"}],
                buffers=[{"byteLength": 36 + len(vast_picture())}],
                bufferViews=[
                    {"buffer": 0, "byteLength": 36},
                    {"buffer": 0, "byteOffset": 36, "byteLength": len(vast_picture())},
                ],
            ),
            b"\0" * 36 + vast_picture(),
        ),
        "at most 8192 x 8192",
    ),
    "picture of words": (
        "head.gltf",
        as_text(gltf(images=[{"uri": "data:image/png;base64,aGVsbG8="}])),
        "cannot be read",
    ),
    "zip called glb": ("head.glb", zipped, "a packed archive"),
    "gzip called obj": ("head.obj", lambda: gzip.compress(b"\0" * 10_000_000), "a packed archive"),
    "cut stl": ("head.stl", lambda: saved("stl")[:3000], "shorter than it says"),
    "billion in stl": (
        "head.stl",
        b"\0" * 80 + struct.pack("<I", BILLION) + b"\0" * 100,
        "has 1,000,000,000 triangles",
    ),
    "flat": ("head.obj", b"v 0 0 0\nv 1 0 0\nv 2 0 0\n" + b"f 1 2 3\n" * 200, "usable triangles"),
}


@pytest.mark.parametrize("case", CASES)
def test_one_sentence(tmp_path: Path, case: str) -> None:
    name, data, said = CASES[case]
    file = tmp_path / name
    file.write_bytes(data() if callable(data) else data)
    with pytest.raises(SceneError) as caught:
        read(file)
    words = str(caught.value)
    assert words.startswith("set.toml: sitter.mesh: ")
    assert said in words
    assert "\n" not in words
    assert "Traceback" not in words
    assert len(words) < 300


def test_a_picture_bomb_beside_an_obj(tmp_path: Path) -> None:
    (tmp_path / "skin.png").write_bytes(vast_picture())
    (tmp_path / "head.mtl").write_text("newmtl skin\nmap_Kd skin.png\n")
    (tmp_path / "head.obj").write_text("mtllib head.mtl\nusemtl skin\n" + OBJ_BALL)
    with pytest.raises(SceneError, match="at most 8192 x 8192"):
        read(tmp_path / "head.obj")


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "secret.png").write_bytes(picture(np.zeros((2, 2, 3))))
    folder = tmp_path / "mesh"
    folder.mkdir()
    (folder / "skin.png").symlink_to(tmp_path / "secret.png")
    (folder / "head.mtl").write_text("newmtl skin\nmap_Kd skin.png\n")
    (folder / "head.obj").write_text("mtllib head.mtl\nusemtl skin\n" + OBJ_BALL)
    with pytest.raises(SceneError, match="outside of its folder"):
        read(folder / "head.obj")


def test_a_missing_unit_and_a_missing_file_name_what_to_write(tmp_path: Path) -> None:
    (tmp_path / "head.obj").write_text(OBJ_BALL)
    with pytest.raises(SceneError, match=r"sitter.mesh_unit: missing .* do not say their unit"):
        read(tmp_path / "head.obj", None)
    with pytest.raises(SceneError, match=r"no file other\.obj"):
        read(tmp_path / "other.obj")
    with pytest.raises(SceneError, match=r"sitter.mesh_faces: .*along the same line as up"):
        read(tmp_path / "head.obj", "m", "y", "-y")
