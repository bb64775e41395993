"""Look at what a mesh file says about itself before anything is read from it.

The limits keep reading within a quarter of a minute and about a gigabyte; a good head scan has some
hundred thousand triangles, and a whole one of two million can be thinned by any scan program.
"""

from __future__ import annotations

import json
import mmap
import re
import struct
from pathlib import Path
from typing import Any

from render.sitter.own.wish import SUFFIXES, MeshFault

MOST_BYTES = 200_000_000
MOST_TRIANGLES = 2_000_000
MOST_VERTICES = 3 * MOST_TRIANGLES  # no triangle shares a corner
MOST_SHOWN = 10**12  # longer whole numbers would fill the sentence
MOST_WORDS = 1_000_000  # values and tables in the text of a glTF: bounds what its reading takes
_ARCHIVES = (b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf", b"Rar!", b"\xfd7zXZ", b"BZh")
_PLY_HEADER = 65536  # bytes; a header has some twenty lines
_PLY_BYTES = {"char": 1, "short": 2, "int": 4, "float": 4, "double": 8}
_PLY_NAMES = {"int8": "char", "int16": "short", "int32": "int", "float32": "float"}
_PLY_NAMES |= {"uint8": "char", "uint16": "short", "uint32": "int", "float64": "double"}
_PLY_NAMES |= {"uchar": "char", "ushort": "short", "uint": "int"}
_STL_HEADER, _STL_TRIANGLE = 84, 50  # bytes
# Extensions of glTF that a reader may need to know; these change nothing that is used here.
_HARMLESS = ("KHR_materials_", "KHR_texture_transform", "KHR_mesh_quantization", "EXT_texture_webp")


def check_declared(file: Path) -> None:
    """Kind, size and declared counts of a mesh file; raises MeshFault."""
    kind = file.suffix.lower()
    if kind not in SUFFIXES:
        raise MeshFault(f'found "{file.name}"', f"a file ending in {', '.join(SUFFIXES)}")
    try:
        size = file.stat().st_size if file.is_file() else None
        head = b"" if size is None else _first(file, _PLY_HEADER)
    except OSError as problem:
        reason = (problem.strerror or "cannot be read").lower()
        raise MeshFault(f"{file.name}: {reason}", "a file that can be read") from None
    if size is None:
        raise MeshFault(f"no file {file.name}", "a mesh file, its path from the scene file")
    if size == 0:
        raise MeshFault(f"{file.name} is empty", "a mesh with triangles")
    if size > MOST_BYTES:
        found = f"{file.name} has {size / 1e6:.0f} MB"
        raise MeshFault(found, f"at most {MOST_BYTES // 1_000_000} MB: thin it first")
    if head.startswith(_ARCHIVES):
        raise MeshFault(f"{file.name} is a packed archive", f"the {kind} file unpacked")
    look = {".ply": _ply, ".stl": _stl, ".obj": _obj, ".glb": _gltf, ".gltf": _gltf}
    look[kind](file, head, size)


def _first(file: Path, count: int) -> bytes:
    with file.open("rb") as stream:
        return stream.read(count)


def check_counts(name: str, triangles: float, vertices: float) -> None:
    """Declared or found counts within the limits; raises MeshFault."""
    for found, most, what in (
        (triangles, MOST_TRIANGLES, "triangles"),
        (vertices, MOST_VERTICES, "vertices"),
    ):
        if not 0 <= found <= most:
            shown = f"{found:,.0f}" if abs(found) < MOST_SHOWN else "no sensible number of"
            raise MeshFault(f"{name} has {shown} {what}", f"0 to {most:,}: thin it first")


def not_a(name: str, kind: str) -> MeshFault:
    return MeshFault(f"{name} is no {kind} file", f"a file saved as {kind}")


def cut_short(name: str) -> MeshFault:
    return MeshFault(f"{name} is shorter than it says", "a whole file: save or copy it again")


def _ply(file: Path, head: bytes, size: int) -> None:
    end = head.find(b"end_header")
    if not head.startswith(b"ply") or end < 0:
        raise not_a(file.name, "PLY")
    lines = [line.split() for line in head[:end].decode("latin-1").splitlines()]
    text = ["format", "ascii"] in [words[:2] for words in lines]
    counts: dict[str, int] = {}
    needed, rows, row = 0, 0, 0
    for words in [*lines, ["element", "end", "0"]]:
        if words[:1] == ["element"] and len(words) == 3:
            needed += rows * row
            rows, row = _whole(file.name, words[2]), 0
            counts[words[1]] = rows
        elif words[:1] == ["property"] and len(words) > 2:
            # In text a value takes a digit and a space; a list at least its count.
            kind = words[2] if words[1] == "list" else words[1]
            row += 2 if text else _PLY_BYTES.get(_PLY_NAMES.get(kind, kind), 1)
    check_counts(file.name, counts.get("face", 0), counts.get("vertex", 0))
    if needed > size - end + 1:
        raise cut_short(file.name)


def _whole(name: str, words: str) -> int:
    # Longer numbers are refused by the interpreter itself.
    if not words.isascii() or not words.isdigit() or len(words) > 18:
        raise MeshFault(f'{name} has "{words[:20]}" rows', "a whole number of rows")
    return int(words)


def _stl(file: Path, head: bytes, size: int) -> None:
    if head.lstrip().startswith(b"solid") and b"facet" in head:
        check_counts(file.name, _count(file, rb"(?m)^\s*facet\b"), 0)
    elif size < _STL_HEADER:
        raise not_a(file.name, "STL")
    else:
        count = struct.unpack_from("<I", head, _STL_HEADER - 4)[0]
        check_counts(file.name, count, 0)
        if _STL_HEADER + count * _STL_TRIANGLE > size:
            raise cut_short(file.name)


def _obj(file: Path, head: bytes, size: int) -> None:
    if b"\0" in head or not re.search(rb"(?m)^\s*(v|f|o|g|mtllib|vn|vt|#)\b", head):
        raise not_a(file.name, "OBJ")
    check_counts(file.name, _count(file, rb"(?m)^\s*f\s"), _count(file, rb"(?m)^\s*v\s"))


def _count(file: Path, pattern: bytes) -> int:
    with file.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as text:
        return sum(1 for _ in re.finditer(pattern, text))


def gltf_tree(file: Path) -> dict[str, Any]:
    """The JSON part of a glTF or GLB file; raises MeshFault."""
    kind = file.suffix.lower()
    data = file.read_bytes()
    if kind == ".glb":
        if len(data) < 20 or data[:4] != b"glTF" or data[16:20] != b"JSON":
            raise not_a(file.name, "GLB")
        version, total, length = struct.unpack_from("<III", data, 4)
        if version != 2:
            raise MeshFault(f"{file.name} is GLB version {version}", "version 2")
        if total > len(data) or 20 + length > len(data):
            raise cut_short(file.name)
        data = data[20 : 20 + length]
    words = sum(data.count(mark) for mark in (b",", b"[", b"{"))
    if words > MOST_WORDS:
        raise MeshFault(f"{file.name} has {words:,} values in its text", f"at most {MOST_WORDS:,}")
    try:
        tree = json.loads(data)
    except (ValueError, RecursionError):
        raise not_a(file.name, kind.lstrip(".").upper()) from None
    if not isinstance(tree, dict) or not isinstance(tree.get("asset"), dict):
        raise not_a(file.name, kind.lstrip(".").upper())
    return tree


def rows_of(tree: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """The tables of a glTF list; anything else in it is left out."""
    found = tree.get(key)
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def _gltf(file: Path, head: bytes, size: int) -> None:
    tree = gltf_tree(file)
    needed = tree.get("extensionsRequired")
    for name in needed if isinstance(needed, list) else ():
        if not str(name).startswith(_HARMLESS):
            raise MeshFault(f'{file.name} needs "{str(name)[:60]}"', "a plain glTF, not compressed")
    accessors = rows_of(tree, "accessors")
    for accessor in accessors:
        count = accessor.get("count", 0)
        if not isinstance(count, int) or isinstance(count, bool):
            raise not_a(file.name, "glTF")
        check_counts(file.name, 0, count)
    for mesh in rows_of(tree, "meshes"):
        total = 0
        for part in rows_of(mesh, "primitives"):
            index = part.get("indices")
            if isinstance(index, int) and 0 <= index < len(accessors):
                total += accessors[index].get("count", 0) // 3
        check_counts(file.name, total, 0)
