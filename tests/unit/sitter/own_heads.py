"""Scans for tests: heads of ours with known landmarks, made as coarse and as open as a scan."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image

from render.sitter import Wishes, build_body
from render.sitter.own import OwnMesh, own_body

DATA = Path(__file__).resolve().parents[3] / "meshes"
GRID_M = 0.003  # a scan's spacing
CUT_M = -0.17  # below the eyes: through the neck, so that the scan is open there


def own_set(mesh: str, keys: str) -> str:
    """A scene file with a mesh for its sitter, and a light for two places of the face."""
    return f"""
title = "My own head"
[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
[sitter]
mesh = "{mesh}"
{keys}
[camera]
distance_m = 2.0
focal_length_mm = 85
f_number = 8
[light.key]
luminous_energy_lm_s = 400
size_cm = [60, 90]
azimuth_deg = -45
elevation_deg = 30
distance_m = 1.2
aim = "nose_tip"
[point.key_cheek]
landmark = "key_cheek"
[point.forehead]
landmark = "forehead"
"""


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """A head [m] in sitter axes, origin midway between its eyes."""

    vertices: np.ndarray  # (n, 3)
    triangles: np.ndarray  # (m, 3)
    marks: dict[str, np.ndarray]  # where its landmarks are
    eye_left: np.ndarray  # (3,) the front of the sitter's left eye


@lru_cache(maxsize=2)
def scan_of(model: str) -> Scan:
    """A bald sitter of ours, its vertices drawn to a grid, cut through the neck."""
    body = build_body(
        Wishes(model=model, hair="bald"), data_dir=DATA, gaze_m=None, strand_count=0, map_width=256
    )
    skin = body.surfaces[0]
    eyes = [s for s in body.surfaces if s.name.startswith("eye_sitter")]
    whole = trimesh.util.concatenate(
        [trimesh.Trimesh(s.vertices, s.triangles, process=False) for s in (skin, *eyes)]
    )
    cell = np.round(whole.vertices / GRID_M).astype(int)
    _, first, place = np.unique(cell, axis=0, return_index=True, return_inverse=True)
    vertices, triangles = whole.vertices[first], place.ravel()[whole.faces]
    triangles = triangles[(vertices[triangles][:, :, 1] > CUT_M).all(1)]
    used, inverse = np.unique(triangles, return_inverse=True)
    marks = {name: mark.position_m for name, mark in body.landmarks.items()}
    front = eyes[0].vertices[eyes[0].vertices[:, 2].argmax()]
    return Scan(vertices[used], inverse.reshape(-1, 3), marks, front)


def read(file: Path, unit: str | None = "m", up: str = "y", faces: str = "z", **more: object):
    """The body of a mesh file; the scene that asks for it is called set.toml."""
    wish = OwnMesh(file, file.parent / "set.toml", unit, up, faces, **more)
    return own_body(wish, data_dir=DATA)


def misses_m(body, marks: dict[str, np.ndarray]) -> dict[str, float]:
    """How far each landmark of a body lies from where it should be [m], those of the head.

    The cut leaves a scan no more than a rim of its shoulders.
    """
    return {
        name: float(np.linalg.norm(body.landmarks[name].position_m - place))
        for name, place in marks.items()
        if place[1] > CUT_M and not name.startswith("shoulder")
    }


def picture(codes: np.ndarray) -> bytes:
    """An 8-bit picture (h, w, 3) as PNG."""
    out = io.BytesIO()
    Image.fromarray(codes.astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


def sphere_uv(vertices: np.ndarray) -> np.ndarray:
    """Map coordinates (n, 2): azimuth from the face, height."""
    u = 0.5 + np.arctan2(vertices[:, 0], vertices[:, 2] + 0.08) / (2 * np.pi)
    v = (vertices[:, 1] - vertices[:, 1].min()) / np.ptp(vertices[:, 1])
    return np.stack([u, v], 1)
