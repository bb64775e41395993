"""The files that a mesh names: its materials, textures and buffers, all from its own folder."""

from __future__ import annotations

import base64
import io
import mmap
import re
import struct
import warnings
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from urllib.parse import unquote

from render.sitter.own.declared import MOST_BYTES, gltf_tree, rows_of
from render.sitter.own.wish import MeshFault

MOST_PIXELS = 8192 * 8192  # of a texture; 200 MB in memory, the largest that scanners write
PICTURES = ("PNG", "JPEG", "WEBP", "BMP", "TIFF")
_MOST_MTL_BYTES = 1_000_000


@dataclass(slots=True)
class Named:
    """Contents of the files that a mesh may read, by the name it uses, and what is not there."""

    contents: dict[str, bytes] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)


def named_files(file: Path) -> Named:
    """What the mesh names, read; raises MeshFault for anything outside of its folder."""
    kind, found = file.suffix.lower(), Named()
    if kind == ".obj":
        _of_obj(file, found)
    elif kind == ".ply":
        with file.open("rb") as stream:
            header = stream.read(65536).split(b"end_header")[0]
        for match in re.finditer(rb"(?mi)^comment\s+TextureFile\s+(.+?)\s*$", header):
            _add(file, match[1].decode("utf-8", "replace"), found, picture=True)
    elif kind in (".glb", ".gltf"):
        _of_gltf(file, found)
    return found


def _of_obj(file: Path, found: Named) -> None:
    with file.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as text:
        match = re.search(rb"(?m)^\s*mtllib[ \t]+([^\r\n]+)", text)
        name = match[1].decode("utf-8", "replace").strip() if match else None
    if name is None or not _add(file, name, found):
        return
    if len(found.contents[name]) > _MOST_MTL_BYTES:
        raise MeshFault(f"{Path(name).name} has more than 1 MB", "a plain material file")
    # Only colour and colour picture are handed on.
    kept = []
    for line in found.contents[name].decode("utf-8", "replace").splitlines():
        words = line.split(maxsplit=1)
        word = words[0].lower() if len(words) == 2 else ""
        if word == "map_kd":
            picture = words[1].strip()
            if _add(file, picture, found, picture=True):
                kept.append(f"map_Kd {picture}")
        elif word in ("newmtl", "kd"):
            kept.append(line)
    found.contents[name] = "\n".join(kept).encode()


def _of_gltf(file: Path, found: Named) -> None:
    tree = gltf_tree(file)
    for buffer in rows_of(tree, "buffers"):
        uri = buffer.get("uri")
        if isinstance(uri, str) and not uri.startswith("data:") and not _add(file, uri, found):
            raise MeshFault(
                f"no file {_shown(uri)}, which {file.name} needs", "both files together"
            )
    views = rows_of(tree, "bufferViews")
    for image in rows_of(tree, "images"):
        uri, index = image.get("uri"), image.get("bufferView")
        if isinstance(uri, str) and uri.startswith("data:"):
            check_picture(file.name, _decoded(file, uri))
        elif isinstance(uri, str):
            _add(file, uri, found, picture=True)
        elif isinstance(index, int) and 0 <= index < len(views) and file.suffix.lower() == ".glb":
            check_picture(file.name, _embedded(file, views[index]))


def _decoded(file: Path, uri: str) -> bytes:
    try:
        return base64.b64decode(uri.partition("base64,")[2])
    except ValueError:
        raise MeshFault(f"{file.name} holds a damaged picture", "one that opens") from None


def _embedded(file: Path, view: dict[str, object]) -> bytes:
    """The bytes of a picture in the binary part of a GLB."""
    start, length = view.get("byteOffset", 0), view.get("byteLength", 0)
    if not isinstance(start, int) or not isinstance(length, int) or min(start, length) < 0:
        raise MeshFault(f"{file.name} holds a damaged picture", "one that opens")
    with file.open("rb") as stream:
        text = struct.unpack("<I", stream.read(16)[12:])[0]
        stream.seek(20 + text + 8 + min(start, MOST_BYTES))
        return stream.read(min(length, MOST_BYTES))


def _add(file: Path, name: str, found: Named, picture: bool = False) -> bool:
    """Read a named file into `found`; False when it is not there."""
    place = _inside(file, name)
    try:
        if not place.is_file():
            found.missing.append(_shown(name))
            return False
        if place.stat().st_size > MOST_BYTES:
            accepted = f"at most {MOST_BYTES // 1_000_000} MB"
            raise MeshFault(f"{place.name} has {place.stat().st_size / 1e6:.0f} MB", accepted)
        found.contents[name] = place.read_bytes()
    except OSError:
        raise MeshFault(f"{_shown(name)} cannot be read", "a file that can be read") from None
    if picture:
        check_picture(place.name, found.contents[name])
    return True


def _inside(file: Path, name: str) -> Path:
    """Where a named file lies; raises MeshFault unless that is in the mesh's own folder."""
    plain = PurePosixPath(unquote(name).replace("\\", "/"))
    outside = plain.is_absolute() or ".." in plain.parts or ":" in name or "\0" in unquote(name)
    try:
        folder = file.parent.resolve()
        place = (folder / plain).resolve() if not outside else folder
        outside = outside or not place.is_relative_to(folder)
    except (OSError, RuntimeError):  # a loop of links
        outside = True
    if outside:
        accepted = f'plain names of files beside {file.name}, such as "skin.png"'
        raise MeshFault(f"{file.name} names {_shown(name)}, outside of its folder", accepted)
    return place


def _shown(name: str) -> str:
    plain = "".join(sign if sign.isprintable() else "?" for sign in name)
    return f'"{plain}"' if len(plain) <= 60 else f'"{plain[:57]}..."'


def check_picture(name: str, data: bytes) -> None:
    """A picture of a known kind and bearable size; only its header is read. Raises MeshFault."""
    from PIL import Image, UnidentifiedImageError  # few sets have a mesh with pictures

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=PICTURES) as picture:
                width, height = picture.size
    except Image.DecompressionBombError:
        raise _too_large(name, "hundreds of") from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        accepted = f"{', '.join(PICTURES)} that opens"
        raise MeshFault(f"{name} holds a picture that cannot be read", accepted) from None
    if width * height > MOST_PIXELS:
        raise _too_large(name, f"{width} x {height}")


def _too_large(name: str, size: str) -> MeshFault:
    return MeshFault(f"{name} holds a picture of {size} pixels", "at most 8192 x 8192")
