"""Named places on a sitter where a meter is held: forehead, cheeks, chin, crown, collar ..."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, unit
from render.sitter.body import Landmark, Surface
from render.sitter.near import on_surface
from render.sitter.shape.bust import CAPSULE_Z, Bust

# Places on the reference head: sideways, up from the eye line and absolute depth [dm].
_MIDDLE = {
    "forehead": (0.0, 0.47, 1.50),
    "glabella": (0.0, 0.22, 1.55),
    "nose_tip": (0.0, -0.36, 1.75),
    "upper_lip": (0.0, -0.63, 1.62),
    "lower_lip": (0.0, -0.75, 1.62),
    "chin": (0.0, -0.95, 1.60),
    "throat": (0.0, -1.45, 0.78),
}
_SIDED = {
    "cheek": (0.42, -0.30, 1.22),
    "cheekbone": (0.56, -0.16, 1.05),
    "temple": (0.64, 0.16, 0.98),
    "jaw": (0.56, -0.80, 0.78),
    "brow": (0.36, 0.235, 1.42),
}
_HAIR = {"crown": (0.0, 1.25, 0.30), "hair": (0.72, 0.55, 0.40)}
# Places on the cloth: sideways, height and depth on the reference head [dm].
_COLLAR = (0.0, 5.30, 0.95)
_SHOULDER = (1.20, 5.62, 0.12)
_CLOTH_REACH = 0.25  # [dm] of the reference head over which a cloth normal is averaged
_TUBE_M = 0.008  # strands this close to the line outward from the scalp make its thickness
_MOST_HAIR_M = 0.12  # beyond this, strands belong to another part of the head
_OUTERMOST = 97.0  # percentile of the strands' height that counts as the outside of the hair
_OVER_HAIR_M = 0.015  # headwear is sought this far outside the hair
_CLEAR_M = 0.002  # a hair landmark lies this far outside


def reference_vertices(bust: Bust, eye_line: Array) -> dict[str, int]:
    """Bust vertex of every landmark on skin or scalp, by name."""
    reference = bust.reference
    outward = np.stack([reference[:, 0], 0 * reference[:, 0], reference[:, 2] - CAPSULE_Z], 1)
    middle = np.abs(reference[:, 0]) < 1e-4
    found = {}
    for name, (x, y, z) in (*_MIDDLE.items(), ("crown", _HAIR["crown"])):
        target = np.array([x, eye_line[1] + y, z])
        distance = ((reference - target) ** 2).sum(1)
        found[name] = int(np.where(middle, distance, np.inf).argmin())
    for side, sign in (("left", 1.0), ("right", -1.0)):
        for name, (x, y, z) in (*_SIDED.items(), ("hair", _HAIR["hair"])):
            target = np.array([sign * x, eye_line[1] + y, z])
            # Behind lips and lids lie other surfaces; take the outer one.
            distance = ((reference - target) ** 2).sum(1) - 0.02 * (outward * target).sum(1)
            here = sign * reference[:, 0] > 0
            found[f"{name}_sitter_{side}"] = int(np.where(here, distance, np.inf).argmin())
    return found


def skin_landmarks(
    vertices_m: Array, normals: Array, places: dict[str, int], hair_points_m: Array
) -> dict[str, Landmark]:
    """Landmarks on the skin and on the outside of the hair (k, 3) [m], empty for a bald head."""
    out = {}
    for name, vertex in places.items():
        p, n = vertices_m[vertex], unit(normals[vertex])
        if name.startswith(("crown", "hair")):
            out[name] = _hair_landmark(name, p, n, hair_points_m)
        else:
            out[name] = _landmark(name, p, n, "skin")
    return out


def _hair_landmark(name: str, scalp: Array, normal: Array, strands: Array) -> Landmark:
    if len(strands) == 0:
        return _landmark(name, scalp, normal, "skin")
    q = strands - scalp
    out = q @ normal
    beside = np.linalg.norm(q - out[:, None] * normal, axis=1)
    near = out[(beside < _TUBE_M) & (out > 0) & (out < _MOST_HAIR_M)]
    thick = float(np.percentile(near, _OUTERMOST)) if len(near) else 0.0
    return _landmark(name, scalp + (thick + _CLEAR_M) * normal, normal, "hair")


def cloth_places(bust: Bust) -> dict[str, int]:
    """Bust vertex under every landmark on the cloth, by name."""
    places = {"collar": _COLLAR}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        places[f"shoulder_sitter_{side}"] = (sign * _SHOULDER[0], *_SHOULDER[1:])
    tree = cKDTree(bust.reference)
    return {name: int(tree.query(place)[1]) for name, place in places.items()}


def cloth_landmarks(
    bust: Bust, surfaces: tuple[Surface, ...], vertices_m: Array
) -> dict[str, Landmark]:
    """Collar and shoulders on the garment, or on bare skin where the surfaces are the skin.

    vertices_m : (n, 3) the body underneath
    """
    on = "skin" if surfaces[0].name == "skin" else "cloth"
    out = {}
    tree = cKDTree(bust.reference)
    for name, under in cloth_places(bust).items():
        body_point = vertices_m[under]
        around = vertices_m[tree.query_ball_point(bust.reference[under], _CLOTH_REACH)]
        best = min(
            (on_surface(s, body_point) for s in surfaces),
            key=lambda hit: float(np.linalg.norm(hit[0] - body_point)),
        )
        normal = np.mean(
            [_nearest_normal(surfaces, q) for q in around[:: max(1, len(around) // 24)]], axis=0
        )
        out[name] = _landmark(name, best[0], unit(normal), on)
    return out


def headwear_landmarks(marks: dict[str, Landmark], outside: Surface) -> dict[str, Landmark]:
    """The landmarks with those of crown and hair moved onto the outside of a hat or scarf."""
    moved = {}
    for name, mark in marks.items():
        if name.startswith(("crown", "hair")):
            place, normal = on_surface(outside, mark.position_m + _OVER_HAIR_M * mark.normal)
            moved[name] = _landmark(name, place, normal, "cloth")
    return marks | moved


def _nearest_normal(surfaces: tuple[Surface, ...], point: Array) -> Array:
    distance = [((s.vertices - point) ** 2).sum(1) for s in surfaces]
    which = int(np.argmin([d.min() for d in distance]))
    return np.asarray(surfaces[which].normals[distance[which].argmin()])


def _landmark(name: str, position: Array, normal: Array, on: str) -> Landmark:
    return Landmark(name, position.astype(np.float32), normal.astype(np.float32), on)
