"""Keeping finished sitters on disk, so that the second look at one takes no time."""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path
from typing import Any

import numpy as np

from render.folders import unkept
from render.sitter.body import (
    Body,
    Cloth,
    Fibre,
    Follower,
    Glass,
    Landmark,
    Lids,
    Painted,
    Skin,
    Strands,
    Surface,
)
from render.writing import in_place_of

NAME, SUFFIX = "sitter-", ".npz"  # of the files
LIMIT_BYTES = 4 << 30  # some 70 sitters with all their hair; a choice, no source
_MATERIALS = {"Skin": Skin, "Painted": Painted, "Cloth": Cloth, "Glass": Glass}
_LID_FIELDS = ("eye", "centre_m", "radius_m", "frame")
_FOLLOWER_FIELDS = ("part", "index", "upper", "lower")


def cache_file(cache_dir: Path, version: str) -> Path:
    """Where the body with this version is kept."""
    return cache_dir / f"{NAME}{version}{SUFFIX}"


def digest_of(parts: tuple[Any, ...]) -> str:
    """Short digest of plain values."""
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:20]


def save_body(file: Path, body: Body, limit_bytes: int = LIMIT_BYTES) -> None:
    """Write a body in one step: readers see the old file or the whole new one.

    limit_bytes : of all bodies beside it; those that were not used for longest go
    Raises OutputError where it cannot be kept.
    """
    data: dict[str, Any] = {"version": np.array(body.version)}
    data["notes"] = np.array(body.notes, dtype=str)
    for i, surface in enumerate(body.surfaces):
        key = f"surface{i}"
        data[f"{key}.name"] = np.array(surface.name)
        data[f"{key}.material"] = np.array(type(surface.material).__name__)
        for part in ("vertices", "triangles", "normals", "uv"):
            data[f"{key}.{part}"] = getattr(surface, part)
        data |= _fields(f"{key}.material", surface.material)
    for i, strands in enumerate(body.strands):
        key = f"strands{i}"
        data[f"{key}.name"] = np.array(strands.name)
        data[f"{key}.points"], data[f"{key}.radii"] = strands.points, strands.radii
        data |= _fields(f"{key}.fibre", strands.fibre)
    for mark in body.landmarks.values():
        data[f"landmark.{mark.name}.on"] = np.array(mark.on)
        data[f"landmark.{mark.name}.place"] = np.stack([mark.position_m, mark.normal])
    for i, lids in enumerate(body.lids):
        data |= _lid_arrays(f"lids{i}", lids)
    try:
        _write(file, data)
    except OSError as problem:
        raise unkept(file.parent, "a finished sitter", problem) from None
    _trim(file, limit_bytes)


def _write(file: Path, data: dict[str, Any]) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    with in_place_of(file, lasting=False) as part, part.open("wb") as stream:
        np.savez(stream, **data)


def _trim(newest: Path, limit_bytes: int) -> None:
    """Make room: bodies go, those used last stay, the newest always."""
    found = []
    for file in newest.parent.glob(f"{NAME}*{SUFFIX}"):
        with contextlib.suppress(OSError):  # another program has just deleted it
            told = file.stat()
            found.append((file != newest, -told.st_mtime, told.st_size, file))
    total = 0
    for _, _, size, file in sorted(found):
        total += size
        if total > limit_bytes and file != newest:
            with contextlib.suppress(OSError):  # the next one makes room
                file.unlink()


def _fields(key: str, material: Skin | Painted | Cloth | Glass | Fibre) -> dict[str, Any]:
    names = type(material).__dataclass_fields__
    return {f"{key}.{name}": np.asarray(getattr(material, name)) for name in names}


def _lid_arrays(key: str, lids: Lids) -> dict[str, Any]:
    data = {f"{key}.{name}": np.asarray(getattr(lids, name)) for name in _LID_FIELDS}
    for i, part in enumerate(lids.followers):
        data |= {f"{key}.{i}.{name}": np.asarray(getattr(part, name)) for name in _FOLLOWER_FIELDS}
    return data


def _lids(data: dict[str, Any]) -> tuple[Lids, ...]:
    out, i = [], 0
    while f"lids{i}.eye" in data:
        key, followers, k = f"lids{i}", [], 0
        while f"{key}.{k}.part" in data:
            name, *arrays = (data[f"{key}.{k}.{name}"] for name in _FOLLOWER_FIELDS)
            followers.append(Follower(name.item(), *arrays))
            k += 1
        eye, centre, radius, frame = (data[f"{key}.{name}"] for name in _LID_FIELDS)
        out.append(Lids(eye.item(), centre, radius.item(), frame, tuple(followers)))
        i += 1
    return tuple(out)


def load_body(file: Path) -> Body | None:
    """A body from disk, or None when there is none or it cannot be read."""
    try:
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as stored:
            data = {key: stored[key] for key in stored.files}
        with contextlib.suppress(OSError):  # a folder that can only be read keeps its ages
            os.utime(file)
        return _body(data)
    except Exception:  # whatever a reader stumbles over in a broken file
        return None


def _value(array: Any) -> Any:
    if array.ndim == 0:
        return array.item()
    return tuple(array.tolist()) if array.shape == (3,) else array


def _made(kind: type[Any], data: dict[str, Any], key: str) -> Any:
    names = kind.__dataclass_fields__
    return kind(**{name: _value(data[f"{key}.{name}"]) for name in names})


def _body(data: dict[str, Any]) -> Body:
    surfaces, strands, landmarks = [], [], {}
    i = 0
    while f"surface{i}.name" in data:
        key = f"surface{i}"
        kind = _MATERIALS[data[f"{key}.material"].item()]
        parts = {part: data[f"{key}.{part}"] for part in ("vertices", "triangles", "normals", "uv")}
        material = _made(kind, data, f"{key}.material")
        surfaces.append(Surface(data[f"{key}.name"].item(), **parts, material=material))
        i += 1
    i = 0
    while f"strands{i}.name" in data:
        key = f"strands{i}"
        fibre = _made(Fibre, data, f"{key}.fibre")
        points, radii = data[f"{key}.points"], data[f"{key}.radii"]
        strands.append(Strands(data[f"{key}.name"].item(), points, radii, fibre))
        i += 1
    for key in data:
        if key.startswith("landmark.") and key.endswith(".on"):
            name = key[len("landmark.") : -len(".on")]
            place = data[f"landmark.{name}.place"]
            landmarks[name] = Landmark(name, place[0], place[1], data[key].item())
    version = data["version"].item()
    notes = tuple(str(note) for note in data["notes"])
    return Body(tuple(surfaces), tuple(strands), landmarks, version, _lids(data), notes)
