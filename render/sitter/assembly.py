"""A whole body put together: skin, eyes, hair and top grown on the unturned head, then turned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import M_PER_DM, Array
from render.sitter.body import Body, Fibre, Landmark, Lids, Strands, Surface
from render.sitter.cast import PRESSED_EARS, Sitter
from render.sitter.face.expressions import EXPRESSIONS
from render.sitter.face.eyes import clear_of_ball, eye_surface, fit_ball
from render.sitter.face.lids import follower, lid_field, rim_of
from render.sitter.face.mouth import mouth_surfaces
from render.sitter.face.wet import wet_surface
from render.sitter.hair.dressing import Tuft, dressed
from render.sitter.hair.facial import lashes
from render.sitter.hair.pigment import mass_colour
from render.sitter.hair.resting import rested
from render.sitter.hair.scalp import HAIRLINE, scalp_of
from render.sitter.hair.strands import HAIR_CLEAR_DM, cusped, pushed_out
from render.sitter.shape.bust import Bust, build_bust, closing
from render.sitter.shape.head_data import HeadData, data_version, load_head_data
from render.sitter.shape.landmarks import (
    cloth_landmarks,
    headwear_landmarks,
    reference_vertices,
    skin_landmarks,
)
from render.sitter.shape.posing import HeadPose, head_pose, posed
from render.sitter.shape.regions import Regions, build_regions
from render.sitter.shape.surfaces import compact, smooth_normals, triangles_of
from render.sitter.shape.texels import Texels, map_texels
from render.sitter.skin.canvas import DETAIL
from render.sitter.skin.maps import UNDER_BEARD, skin_maps
from render.sitter.wear.glasses import glasses
from render.sitter.wear.headwear import Headwear, headwear, stays_under
from render.sitter.wear.shell import Wearer
from render.sitter.wear.tops import METERED, top
from render.sitter.wear.trim import in_metres
from render.sitter.wishes import Settled

_LASH_FIBRE = Fibre(7.0, 0.2)  # lashes are darker than hair


@dataclass(frozen=True, slots=True, eq=False)
class _Neutral:
    """A sitter before the head is turned [dm], and the turn."""

    head: HeadData
    bust: Bust
    regions: Regions
    base: Array  # (base n, 3)
    vertices: Array  # (n, 3)
    normals: Array  # (n, 3)
    eyes: dict[str, tuple[Array, float]]  # side -> centre, radius
    origin: Array  # (3,) midpoint of the posed eyes
    pose: HeadPose

    def metres(self, points: Array) -> Array:
        return np.asarray((points - self.origin) * M_PER_DM)

    def unturned(self, points_m: Array) -> Array:
        """Points (n, 3) [dm] on the unturned head from finished ones that follow it fully [m]."""
        frame = self.pose(np.eye(3)) - self.pose(np.zeros((1, 3)))
        centre, _ = self.eyes["l"]
        q = points_m.astype(float) / M_PER_DM + self.origin - self.pose(centre)
        return np.asarray(q @ frame.T + centre)


@lru_cache(maxsize=2)
def _template(data_dir: Path, version: str) -> tuple[HeadData, Bust, Regions]:
    head = load_head_data(data_dir)
    bust = build_bust(head)
    return head, bust, build_regions(head, bust)


@lru_cache(maxsize=2)
def _texels(data_dir: Path, version: str, width: int) -> Texels:
    return map_texels(_template(data_dir, version)[1], width // DETAIL)


def _neutral(wish: Settled, sitter: Sitter, data_dir: Path, version: str) -> _Neutral:
    head, bust, regions = _template(data_dir, version)
    expression = EXPRESSIONS[wish.expression].morphs
    base = posed(head, (*sitter.morphs, *PRESSED_EARS.get(wish.hair, ()), *expression))
    vertices = bust.verts(base)
    eyes = {side: fit_ball(base[ids]) for side, ids in head.eyes.items()}
    for centre, radius in eyes.values():
        vertices = clear_of_ball(vertices, centre, radius)
    pose = head_pose(head, base, wish.head_turn_deg, wish.head_nod_deg, wish.head_tilt_deg)
    middle = 0.5 * (eyes["l"][0] + eyes["r"][0])
    normals = smooth_normals(vertices, bust.quads)
    return _Neutral(head, bust, regions, base, vertices, normals, eyes, pose(middle), pose)


def make_body(wish: Settled, sitter: Sitter, data_dir: Path, version: str) -> Body:
    """The body that was wished for; raises MeshError when the head data are unreadable."""
    data = data_version(data_dir)
    neutral = _neutral(wish, sitter, data_dir, data)
    bust, skin = neutral.bust, (neutral.vertices, neutral.normals)
    follow = np.clip(bust.matrix @ neutral.head.head_weight, 0, 1)
    turned = neutral.pose(neutral.vertices, follow)
    normals = smooth_normals(turned, bust.quads)
    worn = top(wish.top, bust, Wearer(neutral.vertices, turned, normals), wish.top_colour)
    garment = tuple(in_metres(compact(surface), neutral.origin) for surface in worn.surfaces)
    skin_surface = _skin(
        neutral, turned, normals, wish, sitter, _texels(data_dir, data, wish.map_width)
    )
    eye = 0.5 * (neutral.eyes["l"][0] + neutral.eyes["r"][0])
    on_head = headwear(wish.headwear, skin, worn.points, eye, wish.headwear_colour)
    cloth = worn.points, worn.normals
    strands = _all_strands(neutral, wish, sitter, cloth, (turned, normals), on_head)
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
    neutral: _Neutral, wish: Settled, worn: Headwear | None, marks: dict[str, Landmark]
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


def _bent(neutral: _Neutral, part: Surface, follow: Array) -> Surface:
    """A soft surface [dm] that follows the head by a weight (n,), in metres."""
    moved = neutral.metres(neutral.pose(part.vertices, follow))
    ahead = neutral.metres(neutral.pose(part.vertices + part.normals, follow))
    normals = ((ahead - moved) / M_PER_DM).astype(np.float32)
    return replace(part, vertices=moved.astype(np.float32), normals=normals)


def _lids(
    neutral: _Neutral, skin: Surface, strands: tuple[Strands, ...], wish: Settled
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


def _turned_with_head(neutral: _Neutral, parts: tuple[Surface, ...]) -> tuple[Surface, ...]:
    """Surfaces in decimetres, made on the unturned head, in metres on the turned one."""
    out = []
    for part in parts:
        moved = neutral.pose(part.vertices)
        normals = neutral.pose(part.vertices + part.normals) - moved
        moved_m = neutral.metres(moved).astype(np.float32)
        out.append(replace(part, vertices=moved_m, normals=normals.astype(np.float32)))
    return tuple(out)


def _eyes(neutral: _Neutral, wish: Settled, sitter: Sitter) -> tuple[Surface, ...]:
    out = []
    for side, word in (("l", "left"), ("r", "right")):
        centre, radius = neutral.eyes[side]
        centre_m = neutral.metres(neutral.pose(centre))
        ahead = neutral.metres(neutral.pose(centre + np.array([0, 0, 10.0])))
        seed = sitter.seed + (side == "r")
        name = f"sitter_{word}"
        out.append(eye_surface(name, centre_m, radius, ahead, wish.eye_colour, seed))
    return tuple(out)


def _scalp_colour(wish: Settled) -> tuple[float, float, float] | None:
    """Colour painted under the strands; None for a bald head."""
    return None if wish.hair == "bald" else mass_colour(wish.hair_colour, wish.greying)


def _skin(
    neutral: _Neutral,
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


def _pruned(tuft: Tuft, covered: Callable[[Array], Array]) -> Tuft:
    """Hair of the head without the strands that come through a hat."""
    if not tuft.name.startswith("hair"):
        return tuft
    good = stays_under(tuft.points, covered)
    return replace(tuft, points=tuft.points[good], radii=tuft.radii[good], weight=tuft.weight[good])


def _all_strands(
    neutral: _Neutral,
    wish: Settled,
    sitter: Sitter,
    cloth: tuple[Array, Array],
    turned: tuple[Array, Array],
    worn: Headwear | None,
) -> tuple[Strands, ...]:
    """Lashes, brows, beard and hair; turned: points and normals of the skin after the turn."""
    skin = neutral.vertices, neutral.normals
    eye = 0.5 * (neutral.eyes["l"][0] + neutral.eyes["r"][0])
    scalp = scalp_of(neutral.bust, neutral.regions, skin, eye, cloth)
    follow = np.clip(neutral.bust.matrix @ neutral.head.head_weight, 0, 1)
    covered = None if worn is None else worn.covered
    if worn is not None and covered is None:
        wish = replace(wish, hair="bald")  # no hair shows
    tufts = dressed(scalp, wish, sitter, (neutral.pose, follow), covered)
    if covered is not None:
        tufts = tuple(_pruned(tuft, covered) for tuft in tufts)
    lash_rng = np.random.default_rng(sitter.seed)
    points, radii = lashes(neutral.head, neutral.base, scalp.outside, lash_rng)
    tufts = (Tuft("lashes", points, radii, _LASH_FIBRE, np.ones(radii.shape)), *tufts)
    still = not (wish.head_turn_deg or wish.head_nod_deg or wish.head_tilt_deg)
    body = scalp.outside
    if not still:
        body = scalp_of(neutral.bust, neutral.regions, turned, eye, cloth).outside
    out = []
    for tuft in tufts:
        moved = tuft.points if still else neutral.pose(tuft.points, tuft.weight)
        if not still and tuft.name.startswith(("hair", "beard")):
            moved = pushed_out(body, moved, HAIR_CLEAR_DM)
            moved, free = rested(body, moved, 2 * HAIR_CLEAR_DM)
            tuft, moved = replace(tuft, radii=tuft.radii[free]), moved[free]
        if tuft.name.startswith(("hair", "beard")):
            good = ~cusped(moved)
            tuft, moved = replace(tuft, radii=tuft.radii[good]), moved[good]
        placed = neutral.metres(moved).astype(np.float32)
        out.append(
            Strands(tuft.name, placed, (tuft.radii * M_PER_DM).astype(np.float32), tuft.fibre)
        )
    return tuple(out)
