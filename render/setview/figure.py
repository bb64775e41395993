"""The sitter as a plain figure: the real head and shoulders, and a jointed body below them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import UP, turn
from render.setview.pieces import Mesh, coarse, joined, loft, tube
from render.sitter.body import Body, Glass, Strands

Floats = NDArray[np.float64]

SKIN_CELL_M = 0.008  # of the grid that the head is simplified on: a pixel in a room
HEADED = ("skin", "top", "hat", "headscarf")  # surfaces worth drawing from across a room
HAIRS, HAIR_STEP, HAIR_M = 900, 3, 0.006  # drawn of each part; points left out; thickness
FINE_HAIR = ("lashes", "brows")  # too small to be drawn

# A seated adult: eyes 0.74 to 0.80 m above the seat, knees 0.58 m before the back; from memory.
SEAT_BELOW_EYES_M = 0.76
THIGH_M, SHIN_BACK_M = 0.44, 0.04
HIP_M, KNEE_M, ANKLE_M = 0.075, 0.055, 0.04  # radii
APART_M = 0.11  # of each knee from the middle
WAIST = (0.155, 0.105)  # half width and half depth of the trunk over the seat
STOOL_M = (0.17, 0.03)  # radius and thickness of the seat
CORNERS = 32


def trunk_turn_deg(body: Body) -> float:
    """Where the shoulders face: 0 to the camera, as `turn_deg` of a scene."""
    marks = [body.landmarks.get(f"shoulder_sitter_{side}") for side in ("left", "right")]
    if marks[0] is None or marks[1] is None:
        return 0.0
    across = marks[0].position_m - marks[1].position_m
    return float(np.degrees(np.arctan2(-across[2], across[0])))


def solid_body(body: Body) -> Mesh:
    """Everything of the sitter that hides what is behind, hair and clear lenses left out."""
    return joined(
        [
            (part.vertices.astype(np.float64), part.triangles.astype(np.int64))
            for part in body.surfaces
            if not isinstance(part.material, Glass)
        ]
    )


def drawn_surface(body: Body, name: str) -> Mesh:
    """One surface, simplified for a drawing of the whole room; nothing if it has none so called."""
    parts = [
        (part.vertices.astype(np.float64), part.triangles.astype(np.int64))
        for part in body.surfaces
        if part.name == name
    ]
    return coarse(joined(parts), SKIN_CELL_M) if parts else joined([])


def hair_ribbons(strands: Strands) -> Mesh:
    """A few of the strands as ribbons that lie on the head; nothing of lashes and brows."""
    line = strands.points[:HAIRS, ::HAIR_STEP].astype(np.float64)  # (n, k, 3)
    count, steps = line.shape[:2]
    if strands.name.startswith(FINE_HAIR) or steps < 2:
        return joined([])
    along = np.gradient(line, axis=1)
    aside = np.cross(along, line - line.reshape(-1, 3).mean(0))
    aside *= 0.5 * HAIR_M / np.maximum(np.linalg.norm(aside, axis=-1, keepdims=True), 1e-9)
    edges = np.stack([line - aside, line + aside], 2).reshape(-1, 3)
    start = (2 * (steps * np.arange(count)[:, None] + np.arange(steps - 1))).reshape(-1, 1)
    return edges, np.concatenate([start + [0, 1, 3], start + [0, 3, 2]])


def lower_body(body: Body, eyes_m: Floats) -> tuple[Mesh, Mesh]:
    """Trunk and legs below the shoulders, and the stool under them."""
    seat = max(float(eyes_m[1]) - SEAT_BELOW_EYES_M, 0.25)
    facing = turn(trunk_turn_deg(body))
    top = body.surfaces[0].vertices
    low = float(top[:, 1].min())
    rim = top[top[:, 1] < low + 0.05]
    middle = 0.5 * (rim.min(0) + rim.max(0)).astype(np.float64)
    hips = middle * [1, 0, 1] + seat * UP
    trunk = loft(
        np.stack(
            [
                _oval(hips, facing, *WAIST),
                _oval(hips + 0.1 * UP, facing, *WAIST),
                _oval(hips * [1, 0, 1] + (low + 0.04) * UP, facing, 0.165, 0.11),
            ]
        )
    )
    parts = [trunk]
    for side in (-1.0, 1.0):
        hip = hips + facing @ [side * 0.08, HIP_M, 0.0]
        knee = hips + facing @ [side * APART_M, KNEE_M, THIGH_M]
        ankle = knee * [1, 0, 1] + facing @ [0.0, 0.07, -SHIN_BACK_M]
        toe = ankle * [1, 0, 1] + facing @ [0.0, 0.03, 0.2]
        parts += [tube(hip, knee, HIP_M, KNEE_M), tube(knee + 0.02 * UP, ankle, KNEE_M, ANKLE_M)]
        parts += [tube(ankle - 0.03 * UP, toe, ANKLE_M, 0.03)]
    return joined(parts), _stool(hips)


def _oval(middle: Floats, axes: Floats, half_wide: float, half_deep: float) -> Floats:
    angle = 2 * np.pi * np.arange(CORNERS) / CORNERS
    flat = np.stack([half_wide * np.cos(angle), 0 * angle, -half_deep * np.sin(angle)], -1)
    found: Floats = middle + flat @ axes.T
    return found


def _stool(hips: Floats) -> Mesh:
    radius, thick = STOOL_M
    floor = hips * [1, 0, 1]
    return joined(
        [
            tube(hips - thick * UP, hips, radius),
            tube(floor, hips - thick * UP, 0.025),
            tube(floor, floor + 0.02 * UP, 0.8 * radius, 0.7 * radius),
        ]
    )
