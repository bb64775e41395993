"""A whole body put together: skin, eyes, hair and top grown on the unturned head, then turned."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import M_PER_DM, Array
from render.sitter.body import Body, Landmark, Lids, Strands, Surface
from render.sitter.cast import Sitter
from render.sitter.face.expressions import EXPRESSIONS
from render.sitter.face.eye_paint import EyeTone
from render.sitter.face.eyes import eye_surface
from render.sitter.face.lids import follower, lid_field, rim_of
from render.sitter.face.mouth import mouth_surfaces
from render.sitter.face.wet import wet_surface
from render.sitter.hair.pigment import mass_colour
from render.sitter.hair.scalp import HAIRLINE
from render.sitter.neutral import Neutral, neutral_of, texels_of
from render.sitter.shape.bust import closing
from render.sitter.shape.head_data import data_version
from render.sitter.shape.landmarks import (
    cloth_landmarks,
    headwear_landmarks,
    reference_vertices,
    skin_landmarks,
)
from render.sitter.shape.surfaces import compact, smooth_normals, triangles_of
from render.sitter.shape.texels import Texels
from render.sitter.skin.maps import UNDER_BEARD, skin_maps
from render.sitter.strands import all_strands
from render.sitter.wear.glasses import glasses
from render.sitter.wear.headwear import Headwear, headwear
from render.sitter.wear.shell import Wearer
from render.sitter.wear.tops import METERED, top
from render.sitter.wear.trim import in_metres
from render.sitter.wishes import Settled


def make_body(wish: Settled, sitter: Sitter, data_dir: Path, version: str) -> Body:
    """The body that was wished for; raises MeshError when the head data are unreadable."""
    data = data_version(data_dir)
    neutral = neutral_of(wish, sitter, data_dir, data)
    bust, skin = neutral.bust, (neutral.vertices, neutral.normals)
    follow = np.clip(bust.matrix @ neutral.head.head_weight, 0, 1)
    turned = neutral.pose(neutral.vertices, follow)
    normals = smooth_normals(turned, bust.quads)
    worn = top(wish.top, bust, Wearer(neutral.vertices, turned, normals), wish.top_colour)
    garment = tuple(in_metres(compact(surface), neutral.origin) for surface in worn.surfaces)
    skin_surface = _skin(
        neutral, turned, normals, wish, sitter, texels_of(data_dir, data, wish.map_width)
    )
    eye = 0.5 * (neutral.eyes["l"][0] + neutral.eyes["r"][0])
    on_head = headwear(wish.headwear, skin, worn.points, eye, wish.headwear_colour)
    cloth = worn.points, worn.normals
    strands = all_strands(neutral, wish, sitter, cloth, (turned, normals), on_head)
    hair = [s.points.reshape(-1, 3) for s in strands if s.name.startswith("hair")]
    places = reference_vertices(bust, neutral.regions.eye_line)
    turned_m = neutral.metres(turned)
    marks = skin_landmarks(
        turned_m, normals, places, np.concatenate(hair) if hair else np.zeros((0, 3))
    )
    metered = tuple(s for s in garment if s.name in METERED[wish.top])
    marks |= cloth_landmarks(bust, metered or (skin_surface,), turned_m)
    eyes = _eyes(neutral, wish, sitter)
    inside = _turned_with_head(neutral, mouth_surfaces(neutral.head, bust, neutral.base, skin))
    wet, lids = _lids(neutral, skin_surface, strands, wish)
    marks, on_face = _on_head(neutral, wish, on_head, marks)
    surfaces = (skin_surface, *eyes, *wet, *inside, *garment, *on_face)
    return Body(surfaces, strands, marks, version, lids)


def _on_head(
    neutral: Neutral, wish: Settled, worn: Headwear | None, marks: dict[str, Landmark]
) -> tuple[dict[str, Landmark], tuple[Surface, ...]]:
    """Landmarks that headwear lifts off the hair, and the surfaces of headwear and glasses."""
    lashes_dm = np.concatenate(
        [neutral.base[ids].reshape(-1, 3) for ids in neutral.head.lashes.values()]
    )
    skin = neutral.vertices, neutral.normals
    parts = glasses(wish.glasses, neutral.bust, neutral.regions, skin, neutral.eyes, lashes_dm)
    if worn is None:
        return marks, _turned_with_head(neutral, parts)
    if worn.rigid:
        over = _turned_with_head(neutral, worn.surfaces)
    else:
        follow = np.clip(neutral.bust.matrix @ neutral.head.head_weight, 0, 1)
        tree = cKDTree(neutral.vertices)
        over = tuple(
            _bent(neutral, part, follow[np.asarray(tree.query(part.vertices)[1])])
            for part in worn.surfaces
        )
    return headwear_landmarks(marks, over[0]), (*_turned_with_head(neutral, parts), *over)


def _bent(neutral: Neutral, part: Surface, follow: Array) -> Surface:
    """A soft surface [dm] that follows the head by a weight (n,), in metres."""
    moved = neutral.metres(neutral.pose(part.vertices, follow))
    ahead = neutral.metres(neutral.pose(part.vertices + part.normals, follow))
    normals = ((ahead - moved) / M_PER_DM).astype(np.float32)
    return replace(part, vertices=moved.astype(np.float32), normals=normals)


def _lids(
    neutral: Neutral, skin: Surface, strands: tuple[Strands, ...], wish: Settled
) -> tuple[tuple[Surface, ...], tuple[Lids, ...]]:
    """Tear films, and what follows either eye; skin and strands are finished [m]."""
    follows = EXPRESSIONS[wish.expression].lids_follow
    lashes_m = next(s.points[:, 1] for s in strands if s.name == "lashes")
    wet, out = [], []
    for side, word in (("l", "left"), ("r", "right")):
        centre, radius = neutral.eyes[side]
        rim = rim_of(neutral.head, neutral.bust, neutral.vertices, side)
        film = wet_surface(f"wet_sitter_{word}", rim, centre, radius)
        field = lid_field(rim, centre, radius)
        parts = {"skin": skin.vertices, "lashes": lashes_m}
        at = {name: neutral.unturned(points) for name, points in parts.items()}
        at[film.name] = film.vertices.astype(float)
        moving = tuple(follower(field, name, q, follows) for name, q in at.items())
        frame = (neutral.pose(centre + np.eye(3)) - neutral.pose(centre)).T
        centre_m = neutral.metres(neutral.pose(centre)).astype(np.float32)
        eye = f"eye_sitter_{word}"
        out.append(Lids(eye, centre_m, radius * M_PER_DM, frame.astype(np.float32), moving))
        wet.append(film)
    return _turned_with_head(neutral, tuple(wet)), tuple(out)


def _turned_with_head(neutral: Neutral, parts: tuple[Surface, ...]) -> tuple[Surface, ...]:
    """Surfaces in decimetres, made on the unturned head, in metres on the turned one."""
    out = []
    for part in parts:
        moved = neutral.pose(part.vertices)
        normals = neutral.pose(part.vertices + part.normals) - moved
        moved_m = neutral.metres(moved).astype(np.float32)
        out.append(replace(part, vertices=moved_m, normals=normals.astype(np.float32)))
    return tuple(out)


def _eyes(neutral: Neutral, wish: Settled, sitter: Sitter) -> tuple[Surface, ...]:
    out = []
    tone = EyeTone(wish.eye_colour, sitter.age_years, wish.skin_reflectance)
    for side, word in (("l", "left"), ("r", "right")):
        centre, radius = neutral.eyes[side]
        centre_m = neutral.metres(neutral.pose(centre))
        ahead = neutral.metres(neutral.pose(centre + np.array([0, 0, 10.0])))
        seed = sitter.seed + (side == "r")
        name = f"sitter_{word}"
        out.append(eye_surface(name, centre_m, radius, ahead, tone, seed))
    return tuple(out)


def _scalp_colour(wish: Settled) -> tuple[float, float, float] | None:
    """Colour painted under the strands; None for a bald head."""
    return None if wish.hair == "bald" else mass_colour(wish.hair_colour, wish.greying)


def _skin(
    neutral: Neutral,
    turned: Array,
    normals: Array,
    wish: Settled,
    sitter: Sitter,
    texels: Texels,
) -> Surface:
    """The closed skin; vertices on the map's seam exist twice."""
    bust, count = neutral.bust, len(turned)
    # Hairs of a beard cast their own shadow; the painted one stands for cut ends under the skin.
    stubble = sitter.skin.stubble * (1.0 if wish.beard == "none" else UNDER_BEARD)
    tone = replace(
        sitter.skin,
        reflectance=wish.skin_reflectance,
        redness=wish.skin_redness,
        undertone=wish.skin_undertone,
        stubble=stubble,
    )
    scalp = HAIRLINE[wish.hair], _scalp_colour(wish)
    maps, _ = skin_maps(neutral.regions, texels, tone, sitter.seed, scalp, neutral.vertices)
    wall, wall_faces = closing(bust, turned)
    faces = triangles_of(bust.quads + count * bust.wrapped)
    wall_faces = np.where(wall_faces >= count, wall_faces + count, wall_faces)
    faces = np.concatenate([faces, wall_faces])
    floor = np.tile([0.0, -1.0, 0.0], (len(wall), 1))
    vertices = np.concatenate([turned, turned, wall])
    uv = np.concatenate([bust.map_uv, bust.map_uv + np.array([1.0, 0.0]), np.zeros((len(wall), 2))])
    all_normals = np.concatenate([normals, normals, floor])
    used, inverse = np.unique(faces, return_inverse=True)
    return Surface(
        name="skin",
        vertices=neutral.metres(vertices[used]).astype(np.float32),
        triangles=inverse.reshape(-1, 3).astype(np.int32),
        normals=all_normals[used].astype(np.float32),
        uv=uv[used].astype(np.float32),
        material=maps,
    )
