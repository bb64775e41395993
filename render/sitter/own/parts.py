"""The parts of a mesh file as plain arrays: one part for each material."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from render.sitter.arrays import Array, Index

_ARRAYS = ("vertices", "triangles", "uv", "texture", "colours")


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Triangles of one material, in the file's own unit and axes. Colours are linear sRGB."""

    vertices: Array  # (n, 3)
    triangles: Index  # (m, 3)
    uv: Array | None = None  # (n, 2)
    texture: Array | None = None  # (h, w, 3), row 0 is v = 1
    colours: Array | None = None  # (n, 3)
    plain: tuple[float, float, float] | None = None  # where there is neither


def save_parts(file: Path, parts: list[Part]) -> None:
    """Write parts for `load_parts`."""
    data: dict[str, Any] = {}
    for i, part in enumerate(parts):
        for name in (*_ARRAYS, "plain"):
            value = getattr(part, name)
            if value is not None:
                data[f"{i}.{name}"] = np.asarray(value)
    np.savez(file, **data)


def load_parts(file: Path) -> list[Part]:
    """Read what `save_parts` wrote."""
    with np.load(file, allow_pickle=False) as stored:
        data = {key: stored[key] for key in stored.files}
    parts: list[Part] = []
    while f"{len(parts)}.vertices" in data:
        i = len(parts)
        arrays = {name: data.get(f"{i}.{name}") for name in _ARRAYS}
        plain = data.get(f"{i}.plain")
        colour = None if plain is None else (float(plain[0]), float(plain[1]), float(plain[2]))
        parts.append(Part(**arrays, plain=colour))  # type: ignore[arg-type]
    return parts
