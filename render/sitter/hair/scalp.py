"""The scalp: where hair grows, what it must not pass through, and the free face."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Mask, Rng, smoothstep
from render.sitter.hair.envelope import hull
from render.sitter.hair.roots import Outside, Spots, scatter
from render.sitter.shape.bust import Bust
from render.sitter.shape.regions import Regions

# Hairline of every style, as the regions of the head name it.
HAIRLINE = {
    "bald": "short",
    "close crop": "short",
    "crop": "short",
    "fringe": "short",
    "bob": "long",
    "long": "long",
    "curls": "long",
    "tied back": "long",
    "receding": "receding",
}


@dataclass(frozen=True, slots=True, eq=False)
class Scalp:
    """One sitter's head in neutral pose, as the styles need it [dm]."""

    bust: Bust
    regions: Regions
    vertices: Array  # (n, 3)
    normals: Array  # (n, 3)
    eye: Array  # (3,) midpoint of the eyes
    crown: Array  # (3,) where the hair turns
    cheek: float  # half breadth of the face at the cheekbones
    outside: Outside


def scalp_of(
    bust: Bust,
    regions: Regions,
    skin: tuple[Array, Array],
    eye: Array,
    cloth: tuple[Array, Array],
) -> Scalp:
    """What hair collides with: the head without mouth and lids, and the garment."""
    vertices, normals = skin
    masks = regions.masks
    solid = (np.abs(vertices[:, 1] - eye[1]) < 3.2) & (masks["inside_mouth"] < 0.5)
    solid &= masks["eyelids"] <= 0.01
    near = cloth[0][:, 1] > eye[1] - 3.4
    bare = vertices[solid], normals[solid]
    outside = Outside(*hull(bare, (cloth[0][near], cloth[1][near]), eye))
    middle = np.abs(bust.reference[:, 0]) < 1e-4
    crown = vertices[middle][bust.reference[middle, 1].argmax()] + np.array([0, 0, -0.15])
    bone = regions.eye_line + np.array([0.56, -0.16, -0.16])
    cheek = vertices[((bust.reference - bone) ** 2).sum(1).argmin(), 0]
    return Scalp(bust, regions, vertices, normals, eye, crown, float(cheek), outside)


@lru_cache(maxsize=1)  # roots, thickness and fine hairs all ask for it
def beyond_hairline(scalp: Scalp, style: str) -> Array:
    """Distance (n,) of every vertex from the hairline along the skin, negative in the face [dm]."""
    above = scalp.regions.above_hairline[HAIRLINE[style]]
    corner = above[scalp.bust.quads]
    on_line = scalp.bust.quads[(corner.min(1) < 0) & (corner.max(1) > 0)]
    near, _ = cKDTree(scalp.vertices[on_line].mean(1)).query(scalp.vertices)
    distance = np.asarray(near, float)
    return np.where(above > 0, distance, -distance)


def roots_on(
    scalp: Scalp, style: str, count: int, rng: Rng, dense: Array | None = None
) -> tuple[Spots, Array]:
    """Random roots, thinning and uneven towards the hairline, and their distance from it [dm].

    dense : further vertex weight (n,)
    """
    line = HAIRLINE[style]
    above = beyond_hairline(scalp, style)
    azimuth, uneven = scalp.regions.azimuth, np.zeros(len(above))
    for waves in (5, 9, 14, 23, 41, 67):
        uneven += 0.022 * np.sin(waves * azimuth + rng.random() * 2 * np.pi)
    edge = above + uneven
    # Hair drawn back shows its very edge and has to be dense there.
    sparse, full = (0.55, 0.06) if style == "tied back" else (0.40, 0.10)
    weight = smoothstep(-0.05, 0.07, edge) * (scalp.regions.masks[f"scalp_{line}"] > 0)
    ears = 1 - np.clip(scalp.regions.masks["ears"] * 1.5, 0, 1)
    weight = weight * ears * (sparse + (1 - sparse) * smoothstep(0.0, full, edge))
    weight = weight if dense is None else weight * dense
    skin = scalp.vertices, scalp.normals
    spots = scatter(scalp.bust.quads, skin, weight, count, rng)
    return spots, spots.carry(above)


def in_face(scalp: Scalp, strands: Array) -> Mask:
    """Strands (n,) that hang over eyes, nose or mouth."""
    q = strands - scalp.eye
    over = (np.abs(q[..., 0]) < 0.52) & (q[..., 1] < 0.28) & (q[..., 1] > -1.0)
    return np.asarray((over & (q[..., 2] > -0.35)).any(1))


def out_of_face(scalp: Scalp, strands: Array) -> Array:
    """Strands moved aside where they would cross the cheeks or the eyes."""
    out = strands.copy()
    q = strands - scalp.eye
    share = np.interp(
        q[..., 1],
        [-1.35, -1.1, -0.8, -0.4, -0.1, 0.25, 0.45, 0.62],
        [0.0, 0.66, 0.80, 0.93, 1.0, 1.0, 0.80, 0.0],
    )
    limit = scalp.cheek * share * smoothstep(-0.75, -0.35, q[..., 2])
    side = np.where(out[..., 0] >= 0, 1.0, -1.0)
    crossing = (np.abs(out[..., 0]) < limit) & (q[..., 1] < 0.62)
    crossing[:, :2] = False  # roots stay where they are
    out[..., 0] = np.where(crossing, side * limit, out[..., 0])
    return out
