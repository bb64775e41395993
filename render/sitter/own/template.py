"""Our own reference head as a soft template: its face, its landmarks and how heads vary."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import scipy.sparse as sp

from render.sitter.arrays import M_PER_DM, Array, Index, Mask, smoothstep, unit
from render.sitter.face.eyes import fit_ball
from render.sitter.shape.bust import Bust, build_bust
from render.sitter.shape.head_data import HeadData, load_head_data
from render.sitter.shape.landmarks import cloth_places, reference_vertices
from render.sitter.shape.regions import build_regions
from render.sitter.shape.surfaces import smooth_normals, triangles_of

SIZE_SPREAD = 0.06  # of width, height and depth between adults; a little above their real spread
SIZES = 3  # the first modes: width, height, depth
MORPH_SPREAD = 0.5  # typical weight of a shape change in a sitter of ours
_MOST_MODES = 30
_LEAST_MODE = 0.02  # of the largest; what is smaller moves the face by less than a tenth of a mm
# Where the face is, from the midpoint of the eyes [m]: below the hairline, above the neck, in
# front of the ears.
_FACE_LOW, _FACE_HIGH, _FACE_BACK = -0.118, 0.055, -0.045
_SKULL_WEIGHT = 0.10  # of skull, ears and neck in the fit: hair and collars hide them
_LOWEST = -0.20  # nothing below the neck takes part
_LIFT_M, _OUTLOOK_M = 5e-4, 0.15  # a point sees the room when nothing is in this stretch before it
_OUTWARD = 0.2  # cosine to the line from the middle of the head; turns away in mouth and nostrils
_MIDDLE = (0.0, -0.03, -0.08)  # of the head [m]


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """The reference head [m], origin midway between its eyes, +y up, +z forward.

    Rows are skin points, then landmarks, then the guide points of both eyeballs.
    """

    rows: Array  # (n, 3)
    modes: Array  # (k, n, 3) ways to vary, each by one typical amount [m]
    quads: Index  # (m, 4) of the skin points
    fitted: Index  # (f,) skin points that take part in the fit
    weight: Array  # (f,) their weight, 1 in the face
    names: tuple[str, ...]  # of the landmarks
    measured: Index  # (4,) skin points: root of the nose, underside of the chin, both cheekbones
    normals: Array  # (skin, 3) of the plain skin points
    skin: int  # number of skin points
    eyeball: int  # number of guide points of one eyeball, the left one first

    def shaped(
        self, amounts: Array, rows: Index | slice = slice(None), modes: int | None = None
    ) -> Array:
        """Rows (n, 3) [m], all or some, with the first modes mixed in by `amounts` (k,)."""
        mixed = np.tensordot(amounts[:modes], self.modes[:modes, rows], 1)
        return np.asarray(self.rows[rows] + mixed)

    def landmark_row(self, name: str) -> int:
        return self.skin + self.names.index(name)

    def eyes(self, shaped: Array) -> Array:
        """Centres (2, 3) of the eyeballs, the left one first, among shaped rows."""
        first = self.skin + len(self.names)
        balls = shaped[first : first + self.eyeball], shaped[first + self.eyeball :]
        # From the ball's own middle: a scan may lie far from the origin of its file.
        middles = [ball.mean(0) for ball in balls]
        return np.stack(
            [fit_ball(ball - at)[0] + at for ball, at in zip(balls, middles, strict=True)]
        )


@lru_cache(maxsize=1)
def template(data_dir: Path, version: str) -> Template:
    """The template of these head data; raises MeshError when they cannot be read."""
    head = load_head_data(data_dir)
    bust = build_bust(head)
    names, vertices = _places(head, bust)
    skin = np.unique(head.quads)
    balls = [head.eyes["l"], head.eyes["r"]]
    pick = sp.csr_matrix(sp.identity(len(head.vertices)))[np.concatenate(balls)]
    # Skin points keep their numbers through subdivision: they come first.
    matrix = sp.csr_matrix(sp.vstack([bust.matrix[: len(skin)], bust.matrix[vertices], pick]))
    eye = np.mean([fit_ball(head.reference[ids])[0] for ids in balls], axis=0)
    rows = (matrix @ head.reference - eye) * M_PER_DM
    quads = np.searchsorted(skin, head.quads)
    points = rows[: len(skin)]
    normals = smooth_normals(points, quads)
    fitted, weight = _fitted(points, normals, quads)
    face = fitted[weight > 0.5]
    changes = [_change(head, matrix, name) for name in head.morphs if len(head.morphs[name][0])]
    modes = np.concatenate([_sizes(rows), _modes(np.stack(changes), rows, face)])
    return Template(
        rows,
        modes,
        quads,
        fitted,
        weight,
        names,
        _measured(points, fitted),
        normals,
        len(skin),
        len(balls[0]),
    )


def _places(head: HeadData, bust: Bust) -> tuple[tuple[str, ...], Index]:
    """Names and bust vertices of all landmarks, those of the clothes on the bare body."""
    places = reference_vertices(bust, build_regions(head, bust).eye_line)
    places |= cloth_places(bust)
    return tuple(places), np.array(list(places.values()))


def _fitted(points: Array, normals: Array, quads: Index) -> tuple[Index, Array]:
    """Points that take part in the fit and their weights."""
    y, z = points[:, 1], points[:, 2]
    face = smoothstep(_FACE_LOW - 0.01, _FACE_LOW + 0.005, y)
    face = face * smoothstep(_FACE_HIGH + 0.01, _FACE_HIGH - 0.005, y)
    face = face * smoothstep(_FACE_BACK - 0.01, _FACE_BACK + 0.01, z)
    usable = (y > _LOWEST) & _open_to_the_room(points, normals, quads)
    return np.flatnonzero(usable), np.maximum(face, _SKULL_WEIGHT)[usable]


def _open_to_the_room(points: Array, normals: Array, quads: Index) -> Mask:
    """Points (n,) whose outlook is free: not in mouth, nostrils or eye sockets."""
    import trimesh  # slow to load, and needed once

    head = trimesh.Trimesh(points, triangles_of(quads), process=False)
    lifted = points + _LIFT_M * normals
    hit = head.ray.intersects_location(lifted, normals, multiple_hits=False)
    blocked = np.zeros(len(points), bool)
    blocked[hit[1][np.linalg.norm(hit[0] - lifted[hit[1]], axis=1) < _OUTLOOK_M]] = True
    away = unit(points - np.array(_MIDDLE))
    return np.asarray(~blocked & ((away * normals).sum(1) > _OUTWARD))


def _measured(points: Array, fitted: Index) -> Index:
    """Sellion, menton and the two zygia, between which faces are measured.

    Where they are on the reference head: set by eye on its outline.
    """
    seen = points[fitted]
    x, y, z = seen.T
    middle, front = np.abs(x) < 1e-4, z > -0.02
    sellion = np.where(middle & front & (np.abs(y) < 0.008), z, np.inf).argmin()
    menton = np.where(middle & front & (y > -0.12), y - 0.3 * z, np.inf).argmin()
    sides = [((seen - [sign * 0.0645, -0.010, -0.036]) ** 2).sum(1).argmin() for sign in (1, -1)]
    return np.asarray(fitted[[sellion, menton, *sides]])


def _change(head: HeadData, matrix: sp.csr_matrix, name: str) -> Array:
    """One shape change on all rows (n, 3) [m]."""
    ids, displacement = head.morphs[name]
    moved = np.zeros_like(head.vertices)
    moved[ids] = displacement
    return np.asarray(matrix @ moved) * M_PER_DM


def _sizes(rows: Array) -> Array:
    """Wider, taller, deeper (3, n, 3), each by SIZE_SPREAD."""
    return np.asarray(SIZE_SPREAD * rows[None] * np.eye(3)[:, None, :])


def _modes(changes: Array, rows: Array, face: Index) -> Array:
    """The main ways (k, n, 3) in which the shape changes (c, n, 3) alter the face.

    Moves, turns and sizes of the whole face are taken out first: the fit has those already.
    """
    x = rows[face]
    spin = [np.cross(axis, x) for axis in np.eye(3)]
    stretch = [x * axis for axis in np.eye(3)]
    shift = [np.tile(axis, (len(x), 1)) for axis in np.eye(3)]
    known = np.stack([each.ravel() for each in (*spin, *stretch, *shift)], 1)
    whole = [np.cross(axis, rows) for axis in np.eye(3)]
    whole += [rows * axis for axis in np.eye(3)]
    whole += [np.tile(axis, (len(rows), 1)) for axis in np.eye(3)]
    part = np.linalg.lstsq(known, changes[:, face].reshape(len(changes), -1).T, rcond=None)[0]
    own = changes - np.tensordot(part.T, np.stack(whole), 1)
    mixes, sizes, _ = np.linalg.svd(own[:, face].reshape(len(own), -1), full_matrices=False)
    count = min(_MOST_MODES, int((sizes > _LEAST_MODE * sizes[0]).sum()))
    return np.asarray(MORPH_SPREAD * np.tensordot(mixes[:, :count].T, own, 1))
