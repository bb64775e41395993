"""The open head data on disk: the base mesh, its shape changes and its painted regions."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import MeshError
from render.sitter.arrays import Array, Index

BASE, MORPHS, REGIONS = "head_base.npz", "head_morphs.npz", "head_regions.npz"
JOINTS = (
    *("l-eye", "r-eye", "l-shoulder", "r-shoulder", "l-clavicle", "r-clavicle"),
    *("head", "neck"),
)
LASH_STRIPS = ("l-upper", "l-lower", "r-upper", "r-lower")
MOUTH_PARTS = ("upper", "lower", "tongue")
_STEPS = 32767  # shape changes are stored as 16-bit steps of their largest component


@dataclass(frozen=True, slots=True, eq=False)
class HeadData:
    """Base mesh of head, neck, shoulders and chest; lengths in decimetres, +z forward.

    Only `quads` are skin; the other vertices are guides for joints, eyes and lashes.
    """

    vertices: Array  # (n, 3) arms held away from the body
    reference: Array  # (n, 3) a plain adult with lowered arms: regions are defined on it
    quads: Index  # (m, 4)
    uv: Array  # (k, 2)
    uv_quads: Index  # (m, 4) into uv
    arm_weight: Array  # (n,) 0..1
    girdle_weight: Array  # (n,) 0..1 arm, shoulder blade and collar bone
    head_weight: Array  # (n,) 0..1
    joints: dict[str, Index]  # joint name -> vertices whose mean it is
    eyes: dict[str, Index]  # "l", "r" -> vertices of the eyeball
    lashes: dict[str, Index]  # strip -> (columns, 5) vertices, column 0 at the lid
    lids: dict[str, Index]  # "l", "r" -> (columns, 2) outer and inner edge of the lids' rim
    mouth: dict[str, Index]  # "upper", "lower" rows of teeth and "tongue" -> vertices
    tongue_quads: Index  # (t, 4)
    morphs: dict[str, tuple[Index, Array]]  # name -> vertices (k,), displacements (k, 3)
    regions: dict[str, Array]  # name -> (subdivided vertices,) 0..1

    def joint(self, vertices: Array, name: str) -> Array:
        """Position (3,) of a joint in this set of vertices (n, 3)."""
        return np.asarray(vertices[self.joints[name]].mean(0))


def pack_morph(ids: Index, displacements: Array) -> dict[str, NDArray[Any]]:
    """A shape change as 16-bit steps: what `unpack_morph` reads back."""
    scale = float(np.abs(displacements).max(initial=1e-9))
    steps = np.round(displacements / scale * _STEPS).astype(np.int16)
    return {"ids": ids.astype(np.uint16), "steps": steps, "scale": np.array(scale, np.float32)}


def _unpack(steps: Array, scale: Array) -> Array:
    return np.asarray(steps.astype(np.float64) * (float(scale) / _STEPS))


def data_version(data_dir: Path) -> str:
    """Digest of the head data; raises MeshError when a file is missing."""
    digest = hashlib.sha256()
    for name in (BASE, MORPHS, REGIONS):
        file = data_dir / name
        if not file.is_file():
            raise MeshError(f"{name}: the head data are missing in {data_dir}")
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def load_head_data(data_dir: Path) -> HeadData:
    """Read the head data; raises MeshError when a file is missing or unreadable."""
    return _load(data_dir, data_version(data_dir))


@lru_cache(maxsize=1)
def _load(data_dir: Path, version: str) -> HeadData:
    try:
        with np.load(data_dir / BASE) as file:
            base = {key: file[key] for key in file.files}
        with np.load(data_dir / MORPHS) as file:
            packed = {key: file[key] for key in file.files}
        with np.load(data_dir / REGIONS) as file:
            regions = {key: file[key].astype(np.float64) / 255 for key in file.files}
    except (OSError, ValueError, KeyError) as error:
        raise MeshError(f"the head data in {data_dir} cannot be read: {error}") from error
    names = sorted({key.rsplit(":", 1)[0] for key in packed})
    morphs = {
        name: (
            packed[f"{name}:ids"].astype(np.int64),
            _unpack(packed[f"{name}:steps"], packed[f"{name}:scale"]),
        )
        for name in names
    }
    return HeadData(
        vertices=base["vertices"].astype(np.float64),
        reference=base["reference"].astype(np.float64),
        quads=base["quads"].astype(np.int64),
        uv=base["uv"].astype(np.float64),
        uv_quads=base["uv_quads"].astype(np.int64),
        arm_weight=base["arm_weight"].astype(np.float64),
        girdle_weight=base["girdle_weight"].astype(np.float64),
        head_weight=base["head_weight"].astype(np.float64),
        joints={name: base[f"joint:{name}"].astype(np.int64) for name in JOINTS},
        eyes={side: base[f"eye:{side}"].astype(np.int64) for side in "lr"},
        lashes={strip: base[f"lash:{strip}"].astype(np.int64) for strip in LASH_STRIPS},
        lids={side: base[f"lid:{side}"].astype(np.int64) for side in "lr"},
        mouth={part: base[f"mouth:{part}"].astype(np.int64) for part in MOUTH_PARTS},
        tongue_quads=base["tongue_quads"].astype(np.int64),
        morphs=morphs,
        regions=regions,
    )
