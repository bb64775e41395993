"""Landmarks of an own mesh: the template's where it came to lie, or those given by name."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, unit
from render.sitter.body import Landmark, Surface
from render.sitter.near import on_surface
from render.sitter.own.fitting import NO_MARKS, Marks
from render.sitter.own.soundness import Sound
from render.sitter.own.template import Template
from render.sitter.own.wish import LEAST_MARKS, MARKS, MeshFault, OwnMesh
from render.sitter.shape.surfaces import smooth_normals

MOST_OFF_M = 0.010  # a given place lies no farther from the surface
_AROUND_M = 0.006  # normals are averaged over this far: scans are rough
_OUTSIDE_M, _INSIDE_M = 0.12, 0.03  # hair and crown: looked for from outside, along the normal
_OUTERMOST = ("crown", "hair_sitter_left", "hair_sitter_right")


def marks_of(template: Template, wish: OwnMesh, turn: Array, whole: Sound) -> Marks:
    """Template rows and places [m] of the given landmarks; raises MeshFault."""
    if not wish.landmarks:
        return NO_MARKS
    known, key = ", ".join(MARKS), "landmarks"
    names = [name for name, _ in wish.landmarks]
    for name in names:
        if name not in MARKS:
            raise MeshFault(f'found "{name}"', f"accepted: {known}", f"{key}.{name}")
    if len(names) < LEAST_MARKS:
        raise MeshFault(f"{len(names)} given", f"at least {LEAST_MARKS} of {known}", key)
    places = np.array([place for _, place in wish.landmarks]) @ turn.T
    for name, place in zip(names, places, strict=True):
        off = float(np.linalg.norm(whole.vertices - place, axis=1).min())
        spacing = _spacing(whole)
        if off > MOST_OFF_M + spacing:
            raise MeshFault(
                f"{1000 * off:.0f} mm away from the mesh",
                f"a place on its surface, within {1000 * MOST_OFF_M:.0f} mm, in its unit and axes",
                f"{key}.{name}",
            )
    flat = np.linalg.svd(places - places.mean(0), compute_uv=False)
    if flat[1] < MOST_OFF_M:
        raise MeshFault("the given places lie on one line", "three that make a triangle", key)
    return np.array([_row(template, name) for name in names]), places


def _spacing(whole: Sound) -> float:
    """Typical length of an edge [m]: vertices may be that far from a place on the surface."""
    corners = whole.vertices[whole.triangles[:: max(1, len(whole.triangles) // 1000)]]
    return float(np.median(np.linalg.norm(corners[:, 0] - corners[:, 1], axis=1)))


def _row(template: Template, name: str) -> int:
    """Template row of a name; for an eye the front of its ball."""
    if not name.startswith("eye_"):
        return template.landmark_row(name)
    first = template.skin + len(template.names)
    first += 0 if name.endswith("left") else template.eyeball
    return first + int(template.rows[first : first + template.eyeball, 2].argmax())


def own_landmarks(
    template: Template, placed: Array, marks: Marks, surfaces: tuple[Surface, ...]
) -> dict[str, Landmark]:
    """Every landmark of ours on the surfaces; where the mesh ends, the nearest place of it.

    placed : (n, 3) template rows [m] where they lie; crown and hair are looked for outward from
             there, so that they lie on the outside of the scan's hair
    """
    normals = smooth_normals(placed, template.quads)
    given = dict(zip(marks[0].tolist(), marks[1], strict=True))
    out = {}
    for name in template.names:
        row = template.landmark_row(name)
        start = given.get(row, placed[row])
        if name in _OUTERMOST:
            beside = int(((placed[: template.skin] - start) ** 2).sum(1).argmin())
            start = _outermost(surfaces, start, normals[beside])
        hits = [on_surface(surface, start) for surface in surfaces]
        place, normal = min(hits, key=lambda hit: float(np.linalg.norm(hit[0] - start)))
        normal = _averaged(surfaces, place, normal)
        out[name] = Landmark(name, place.astype(np.float32), normal.astype(np.float32), "skin")
    return out


def _averaged(surfaces: tuple[Surface, ...], place: Array, normal: Array) -> Array:
    """Mean normal of what is near and faces alike."""
    near = [s.normals[((s.vertices - place) ** 2).sum(1) < _AROUND_M**2] for s in surfaces]
    around = np.concatenate(near).astype(float)
    around = around[around @ normal > 0.5]
    return unit(around.mean(0)) if len(around) else normal


def _outermost(surfaces: tuple[Surface, ...], start: Array, normal: Array) -> Array:
    """Where a ray from outside along the normal first meets a surface; the start if nowhere.

    Source: Möller and Trumbore, Journal of Graphics Tools 2 (1997) 21.
    """
    origin, way = start + _OUTSIDE_M * normal, -normal
    best = _OUTSIDE_M + _INSIDE_M
    for surface in surfaces:
        corners = surface.vertices[surface.triangles].astype(float)
        ab, ac = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        p = np.cross(way, ac)
        det = (ab * p).sum(1)
        det = np.where(np.abs(det) < 1e-15, np.inf, det)
        s = origin - corners[:, 0]
        u = (s * p).sum(1) / det
        q = np.cross(s, ab)
        v, t = (q @ way) / det, (ac * q).sum(1) / det
        hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
        if hit.any():
            best = min(best, float(t[hit].min()))
    return np.asarray(start if best == _OUTSIDE_M + _INSIDE_M else origin + best * way)
