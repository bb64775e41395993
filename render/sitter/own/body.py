"""A sitter made of a scan: placed by its eyes, closed where light would leak in, with landmarks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array
from render.sitter.body import Body, Surface
from render.sitter.own.finding import face_size, find
from render.sitter.own.fitting import Fit
from render.sitter.own.marks import marks_of, own_landmarks
from render.sitter.own.paint import Wrapped, colour_at, coloured, other_of, skin_of, wrapped
from render.sitter.own.parts import Part
from render.sitter.own.soundness import Sound, largest, openings, sound
from render.sitter.own.template import Template
from render.sitter.own.wish import UNITS_M, OwnMesh, sitter_from_file, unit_of
from render.sitter.shape.surfaces import smooth_normals

_LARGE_M = 0.10  # an opening this wide is the edge of a scan, not a mouth or an eye
_UNDER_CHIN_M = 0.01
_FACE_PATCH_M = 0.012  # round forehead, cheeks and chin: where the skin's tone is read
_TONE_MARKS = ("forehead", "cheek_sitter_left", "cheek_sitter_right", "chin")


def make_own(wish: OwnMesh, parts: list[Part], template: Template, version: str) -> Body:
    """The body of a scan; raises MeshFault."""
    turn = sitter_from_file(wish.up, wish.faces) * UNITS_M[unit_of(wish)]
    parts = [replace(part, vertices=part.vertices @ turn.T) for part in parts]
    whole = sound(parts, wish.file.name)
    marks = marks_of(template, wish, turn, whole)
    # Sewn together: an STL and the seams of a texture have no smooth normals otherwise.
    fit = find(template, whole.sewn(), whole.places(), wish, marks)
    placed = fit.placed(template)
    eyes = template.eyes(placed).mean(0)
    whole = replace(whole, vertices=whole.vertices - eyes)
    placed, marks = placed - eyes, (marks[0], marks[1] - eyes)

    face = _face_part(template, whole, placed)
    wraps = {k: _wrap(whole, parts, k) for k in np.unique(whole.part).tolist()}
    normals = _normals(whole)
    bare = {k: _surface(_name(k, face), wrap, whole, normals, k) for k, wrap in wraps.items()}
    landmarks = own_landmarks(template, placed, marks, tuple(bare.values()))
    tones = _tones(bare[face], wraps[face], [landmarks[n].position_m for n in _TONE_MARKS])
    skin, level = skin_of(parts[face], wraps[face].texture, tones, wish.skin_reflectance)
    chin = float(placed[template.landmark_row("chin"), 1])
    closed, left_open = _closed(replace(bare[face], material=skin), whole, chin)
    others = tuple(surface for k, surface in bare.items() if k != face)
    notes = _notes(template, fit, whole, left_open, (level, coloured(parts[face])))
    return Body((closed, *others), (), landmarks, version, notes=notes)


def _face_part(template: Template, whole: Sound, placed: Array) -> int:
    """The part that most points of the face lie on."""
    points = placed[template.fitted[template.weight > 0.5]][::20]
    middles = whole.vertices[whole.triangles].mean(1)
    near = np.abs(middles).max(1) < 0.2
    middles, owner = middles[near], whole.part[near]
    nearest = [int(((middles - point) ** 2).sum(1).argmin()) for point in points]
    return int(np.bincount(owner[nearest]).argmax())


def _name(k: int, face: int) -> str:
    return "skin" if k == face else f"own_{k}"


def _wrap(whole: Sound, parts: list[Part], k: int) -> Wrapped:
    return wrapped(parts[k], whole.triangles[whole.part == k] - whole.first[k])


def _normals(whole: Sound) -> Array:
    """Smooth unit normals (n, 3), the same on both sides of a seam."""
    return np.asarray(smooth_normals(whole.sewn(), whole.places())[whole.seam])


def _surface(name: str, wrap: Wrapped, whole: Sound, normals: Array, k: int) -> Surface:
    at = wrap.source + whole.first[k]
    return Surface(
        name,
        whole.vertices[at].astype(np.float32),
        wrap.triangles.astype(np.int32),
        normals[at].astype(np.float32),
        wrap.uv.astype(np.float32),
        other_of(wrap.texture),
    )


def _tones(surface: Surface, wrap: Wrapped, places: list[Array]) -> Array:
    """Colours (k, 3) of the map at triangles near some places; at least at the nearest ones."""
    middles = surface.vertices[surface.triangles].mean(1)
    near = np.zeros(len(middles), bool)
    for place in places:
        distance = np.linalg.norm(middles - place, axis=1)
        near |= distance <= max(_FACE_PATCH_M, float(distance.min()))
    return colour_at(wrap.texture, wrap.uv[wrap.triangles[near]].mean(1))


def _closed(skin: Surface, whole: Sound, chin: float) -> tuple[Surface, tuple[int, int]]:
    """The skin with its lower and outer openings closed; how many were, how many stay open."""
    main = largest(whole)
    points = whole.sewn()
    loops = openings(whole.places()[main])
    caps = []
    for loop in loops:
        rim = points[loop]
        if rim[:, 1].mean() < chin - _UNDER_CHIN_M or np.ptp(rim, axis=0).max() > _LARGE_M:
            caps.append(rim)
    for rim in caps:
        skin = _capped(skin, rim)
    return skin, (len(caps), len(loops) - len(caps))


def _capped(skin: Surface, rim: Array) -> Surface:
    """The skin with a lid over an opening whose rim (k, 3) runs along the triangles' way."""
    count, k = len(skin.vertices), len(rim)
    hub = rim.mean(0)
    fan = np.arange(k)
    triangles = np.stack([np.roll(fan, -1), fan, np.full(k, k)], 1)
    vertices = np.concatenate([rim, hub[None]])
    nearest = np.atleast_1d(cKDTree(skin.vertices).query(rim)[1])
    uv = skin.uv[np.r_[nearest, nearest[:1]]]
    return replace(
        skin,
        vertices=np.concatenate([skin.vertices, vertices.astype(np.float32)]),
        triangles=np.concatenate([skin.triangles, (triangles + count).astype(np.int32)]),
        normals=np.concatenate(
            [skin.normals, smooth_normals(vertices, triangles).astype(np.float32)]
        ),
        uv=np.concatenate([skin.uv, uv]),
    )


def _notes(
    template: Template,
    fit: Fit,
    whole: Sound,
    openings_: tuple[int, int],
    tone: tuple[float, bool],
) -> tuple[str, ...]:
    """What a photographer should know about the mesh, one phrase each."""
    length, breadth = face_size(template, fit)
    turned = np.degrees(np.arctan2(fit.rotation[0, 2], fit.rotation[2, 2]))
    nod = np.degrees(np.arcsin(np.clip(-fit.rotation[1, 2], -1, 1)))
    out = [
        f"face {1000 * length:.0f} mm long, {1000 * breadth:.0f} mm wide; landmarks fitted with a "
        f"residual of {1000 * fit.residual_m:.1f} mm",
        f"luminous reflectance of the face {tone[0]:.2f}"
        + ("" if tone[1] else " (no texture: a plain tone)"),
    ]
    if max(abs(turned), abs(nod)) > 3:
        out.append(f"the head itself is turned {turned:+.0f} and nods {nod:+.0f} degrees")
    if openings_[0]:
        out.append(f"{openings_[0]} openings closed")
    if openings_[1]:
        out.append(f"{openings_[1]} small openings left open")
    return (*out, *whole.notes)
