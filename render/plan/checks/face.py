"""What each light does on the face: the places that count, where the nose points, the key there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import direction, facing, unit
from render.layout.placed import Layout
from render.predict import Obstacles, direct_exposure
from render.studio.sitter import Sitter

Floats = NDArray[np.float64]

# Of the skin: where a light from behind shows first, and where the key lights.
PLACES = (
    "nose_tip",
    "brow_sitter_left",
    "brow_sitter_right",
    "cheek_sitter_left",
    "cheek_sitter_right",
    "forehead",
    "chin",
)
LIFT_M = 2e-3  # the receptor sits just off the skin that it measures


@dataclass(frozen=True, slots=True)
class FaceLight:
    """Direct light of every light on places of the face, shadows of all but hair included."""

    names: tuple[str, ...]  # (n,)
    positions_m: Floats  # (n, 3)
    normals: Floats  # (n, 3)
    along_skin_lx_s: Floats  # (n, lights) flat receptor along the skin's normal
    at_light_lx_s: Floats  # (n, lights) flat receptor aimed at each light


@dataclass(frozen=True, slots=True)
class Nose:
    """The way the face looks: axes of the head."""

    ahead: Floats  # (3,) unit
    right: Floats  # (3,) unit, camera right when the sitter faces the camera
    up: Floats  # (3,) unit

    def angles_deg(self, way: Floats) -> tuple[float, float]:
        """Azimuth (positive to `right`) and elevation [deg] of a direction (3,) from the nose."""
        level = float(np.degrees(np.arctan2(way @ self.right, way @ self.ahead)))
        return level, float(np.degrees(np.arcsin(np.clip(unit(way) @ self.up, -1, 1))))


def nose_axes(sitter: Sitter) -> Nose:
    """Where the nose points, from the turns and the nod of the scene; a tilt leaves it."""
    ahead = direction(sitter.turn_deg + sitter.head_turn_deg, -sitter.head_nod_deg)
    right, up = facing(ahead)
    return Nose(ahead, right, up)


def face_light(layout: Layout, obstacles: Obstacles) -> FaceLight:
    """Direct readings of every light on the face; no places without a sitter."""
    marks = layout.body.landmarks if layout.body is not None else {}
    names = tuple(name for name in PLACES if name in marks)
    at = np.array([marks[name].position_m for name in names], float).reshape(-1, 3)
    normals = np.array([marks[name].normal for name in names], float).reshape(-1, 3)
    held = at + LIFT_M * normals
    if not names:
        none = np.zeros((0, len(layout.fronts)))
        return FaceLight(names, at, normals, none, none)
    towards = np.stack([unit(front.centre_m - held) for front in layout.fronts], axis=1)
    along, aimed = (
        direct_exposure(layout, held, axes, "flat", obstacles=obstacles).luminous_exposure_lx_s
        for axes in (normals, towards)
    )
    return FaceLight(names, at, normals, along, aimed)
