"""Turn a finished sitter's eyes towards what they look at; lids and lashes go with them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.sitter.arrays import Array, Index, unit
from render.sitter.body import Body, Follower, Lids, Strands, Surface
from render.sitter.face.lids import about_eye, lid_turned, turn_of
from render.sitter.shape.surfaces import smooth_normals

FARTHEST_DEG = 35.0  # eyes turn no further in the head; comfortable limit, from memory
_ROOT = 1  # point of a lash where it leaves the skin


def looking_at(body: Body, gaze_m: tuple[float, float, float] | None) -> Body:
    """The body with both eyes turned to a point of sitter space [m], as far as eyes turn.

    None looks straight ahead. The lids have then done their part: the body has none left to turn.
    """
    surfaces = {s.name: s for s in body.surfaces}
    strands = {s.name: s for s in body.strands}
    for name, eye in list(surfaces.items()):
        if name.startswith("eye_"):
            centre, ahead = _ball(eye.vertices.astype(float))
            turn: Array = np.eye(3)
            if gaze_m is not None:
                turn = _rotation(ahead, unit(np.array(gaze_m) - centre))
            surfaces[name] = _turned(eye, centre, turn)
            for lids in body.lids:
                if lids.eye == name:
                    _follow(lids, turn @ ahead, surfaces, strands)
    return replace(
        body, surfaces=tuple(surfaces.values()), strands=tuple(strands.values()), lids=()
    )


def _turned(eye: Surface, centre: Array, turn: Array) -> Surface:
    return replace(
        eye,
        vertices=((eye.vertices - centre) @ turn.T + centre).astype(np.float32),
        normals=(eye.normals @ turn.T).astype(np.float32),
    )


def _follow(
    lids: Lids, gaze: Array, surfaces: dict[str, Surface], strands: dict[str, Strands]
) -> None:
    """Move everything that follows this eye; gaze (3,) is the eye's direction."""
    pitch = float(np.arcsin(np.clip(gaze @ lids.frame[:, 1], -1, 1)))
    for part in lids.followers:
        turn = turn_of(pitch, part.upper, part.lower)
        if part.part in surfaces:
            surface = surfaces[part.part]
            moved = surface.vertices.astype(float)
            moved[part.index] = about_eye(lids, moved[part.index], turn, gaze)
            surfaces[part.part] = _reshaped(surface, part.index, moved)
        elif part.part in strands:
            strands[part.part] = _carried(strands[part.part], part, lids, turn, gaze)


def _reshaped(surface: Surface, index: Index, moved: Array) -> Surface:
    """The surface with some vertices moved; its smooth normals turn as the faces do."""
    touched = np.zeros(len(moved), bool)
    touched[index] = True
    faces = surface.triangles[touched[surface.triangles].any(1)]
    near, local = np.unique(faces, return_inverse=True)
    local = local.reshape(-1, 3)
    change = smooth_normals(moved[near], local)
    change = change - smooth_normals(surface.vertices[near].astype(float), local)
    normals = surface.normals.copy()
    # Only vertices with all their faces here have a normal to compare.
    inner = touched[near]
    normals[near[inner]] = unit(normals[near[inner]] + change[inner])
    return replace(surface, vertices=moved.astype(np.float32), normals=normals)


def _carried(strands: Strands, part: Follower, lids: Lids, turn: Array, gaze: Array) -> Strands:
    """Lashes turned about the eye like their roots, and shifted with the skin there."""
    points = strands.points.astype(float)
    mine = points[part.index]
    count = mine.shape[1]
    turned = lid_turned(lids, mine.reshape(-1, 3), np.repeat(turn, count)).reshape(mine.shape)
    root = about_eye(lids, mine[:, _ROOT], turn, gaze)
    points[part.index] = turned + (root - turned[:, _ROOT])[:, None]
    return replace(strands, points=points.astype(np.float32))


def _ball(vertices: Array) -> tuple[Array, Array]:
    """Centre (3,) [m] of an eye's ball and where the eye looks (3,); its last vertex leads."""
    apex = vertices[-1]
    away = np.linalg.norm(vertices - apex, axis=1)
    back = vertices[away > np.median(away)]  # the sclera behind, a sphere
    rows = np.c_[2 * back, np.ones(len(back))]
    centre = np.linalg.lstsq(rows, (back**2).sum(1), rcond=None)[0][:3]
    return centre, unit(apex - centre)


def _rotation(start: Array, end: Array) -> Array:
    """(3, 3) shortest rotation from one direction towards another, FARTHEST_DEG at most."""
    axis = np.cross(start, end)
    sine = np.linalg.norm(axis)
    if sine < 1e-9:
        return np.eye(3)
    angle = min(np.arctan2(sine, start @ end), np.radians(FARTHEST_DEG))
    x, y, z = axis / sine
    across = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    # Rodrigues' formula.
    return np.asarray(np.eye(3) + np.sin(angle) * across + (1 - np.cos(angle)) * across @ across)
