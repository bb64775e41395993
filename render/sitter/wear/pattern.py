"""A top before it hangs: plain cloth on the body, wide where tops are cut wide."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.sparse as sp
from scipy.ndimage import gaussian_filter, map_coordinates

from render.sitter.arrays import Array, Index, smoothstep, unit
from render.sitter.shape.bust import NIPPLE_REACH, Bust, nipple_distance
from render.sitter.shape.carried import catmull_clark, neighbour_mean
from render.sitter.shape.fill import fill
from render.sitter.shape.posing import lowered
from render.sitter.shape.surfaces import open_vertices, smooth_normals, triangles_of

# All lengths here in decimetres.
HIGHEST = 6.55  # no top is ever higher than this on the reference head
_RAISED_DEG = 24.0  # tops are cut for arms lifted by this much; set by eye
_BRIDGED = 0.30  # hollows narrower than about this are spanned
_DENSE = 1.2  # cloth crumples a little further out than the nipples reach
_LOW = 4.0  # open edges below this on the reference head are hems
_SECTORS, _LAYERS = 90, 56  # cells of the envelope: round the body, from neck to hem
_TAPER = 0.12  # slope at which a top may narrow below the fullest part of the chest
_ENVELOPE_TOP = 1.3  # the envelope begins this far under the top of the cloth


@dataclass(frozen=True, slots=True)
class Cut:
    """How a top is cut."""

    ease: float  # distance of the plain cloth from the body [dm]
    loose: float  # 0 follows the chest, 1 hangs straight down from it
    stiff: float  # 0..1, how much of the plain cut survives the hanging
    broad: int  # steps of hanging on few points, for broad folds
    small: int  # steps of hanging on more points, for small folds


@dataclass(frozen=True, slots=True, eq=False)
class Coarse:
    """Every second or fourth vertex of the bust below the chin, and the way back to all."""

    coarse: Index  # (c,) bust vertices
    quads: Index  # (m, 4) into coarse
    fine: Index  # (n,) bust vertices
    refine: sp.csr_matrix  # (n, c)
    triangles: Index  # (t, 3) into fine
    mean: sp.csr_matrix  # (c, c)
    hem: Array  # (c,) 1 on the open edges below


@lru_cache(maxsize=4)
def coarse_of(bust: Bust, levels: int) -> Coarse:
    """The bust some levels of subdivision back."""
    # A subdivided quad leaves four children in a row, each beginning at an old vertex.
    old = bust.quads
    for _ in range(levels):
        old = old.reshape(-1, 4, 4)[:, :, 0]
    below = bust.reference[old, 1].max(1) < HIGHEST
    children = bust.quads.reshape(len(old), -1)[below].reshape(-1, 4)
    coarse, numbered = np.unique(old[below], return_inverse=True)
    quads: Index = numbered.reshape(-1, 4)
    refine, new = sp.csr_matrix(sp.identity(len(coarse))), quads
    for _ in range(levels):
        level, new = catmull_clark(new, refine.shape[0])
        refine = sp.csr_matrix(level @ refine)
    # The bust numbers the same refined vertices in its own order.
    fine, inverse = np.unique(children, return_inverse=True)
    order = np.empty(len(fine), np.int64)
    order[inverse.ravel()] = new.ravel()
    triangles = triangles_of(quads)
    low = bust.reference[coarse, 1] < _LOW
    return Coarse(
        coarse,
        quads,
        fine,
        sp.csr_matrix(refine[order]),
        triangles_of(inverse.reshape(-1, 4)),
        neighbour_mean(triangles, len(coarse)),
        (open_vertices(triangles, len(coarse)) & low).astype(float),
    )


@lru_cache(maxsize=4)
def calming(bust: Bust, levels: int) -> sp.csr_matrix:
    """Operator (c, c) that smooths cloth where the mesh is so dense that it would crumple."""
    part = coarse_of(bust, levels)
    reference = bust.reference[part.coarse]
    dense = nipple_distance(reference) < _DENSE * NIPPLE_REACH
    return fill(reference, triangles_of(part.quads), dense)


def raised(bust: Bust, vertices: Array) -> Array:
    """The body (n, 3) with its arms partly lifted, as tops are cut."""
    half = np.abs(bust.arm - 0.5) < 0.2
    left, right = (vertices[half & (side * vertices[:, 0] > 0)].mean(0) for side in (1, -1))
    return lowered(vertices, bust.arm, (left, right), -_RAISED_DEG)


def _bridged(body: Array, normal: Array, part: Coarse, cut: Cut) -> Array:
    """Cloth that spans small hollows: smoothed body, lifted over what sticks out."""
    step = float(np.median(np.linalg.norm(body[part.quads[:, 0]] - body[part.quads[:, 1]], axis=1)))
    rounds = round((_BRIDGED / step) ** 2)
    smooth, free = body.copy(), 1 - part.hem[:, None]
    for _ in range(rounds):
        smooth = smooth + 0.7 * free * (part.mean @ smooth - smooth)
    proud = np.maximum(((body - smooth) * normal).sum(1), 0)
    for _ in range(rounds // 2):
        proud = 0.4 * np.maximum(proud, part.mean @ proud) + 0.6 * (part.mean @ proud)
    return np.asarray(smooth + normal * (cut.ease + proud)[:, None])


def _envelope(points: Array, torso: Array) -> Array:
    """How far outwards (n,) plain cloth hangs from points (n, 3): round every level, and straight
    down from what sticks out above.

    torso : (n,) 0..1 share of the chest's cloth in every point
    """
    middle = np.array([0.0, 0.5 * (points[:, 2].min() + points[:, 2].max())])
    flat = points[:, [0, 2]] - middle
    radius = np.hypot(flat[:, 0], flat[:, 1])
    turn = np.arctan2(flat[:, 0], flat[:, 1]) / (2 * np.pi) % 1.0
    high, low = points[:, 1].max(), points[:, 1].min()
    layer = np.clip((high - points[:, 1]) / (high - low) * _LAYERS, 0, _LAYERS - 1e-6)
    cell = layer.astype(int) * _SECTORS + (turn * _SECTORS).astype(int) % _SECTORS
    full = np.zeros(_LAYERS * _SECTORS)
    chest = torso > 0.3
    np.maximum.at(full, cell[chest], radius[chest])
    ray = (np.arange(_SECTORS) + 0.5) / _SECTORS * 2 * np.pi
    facing = np.cos(ray[:, None] - ray)
    far = (full.reshape(_LAYERS, 1, _SECTORS) * np.maximum(facing, 0)).max(2)  # support lines
    hull = (far[:, None] / np.where(facing > 0.2, facing, 1e-3)).min(2)
    drop = _TAPER * (high - low) / _LAYERS
    for k in range(1, _LAYERS):
        hull[k] = np.maximum(hull[k], hull[k - 1] - drop)
    hull = gaussian_filter(hull, (1.5, 1.5), mode=("nearest", "wrap"))
    where = np.stack([layer - 0.5, turn * _SECTORS - 0.5])
    around = np.concatenate([hull[:, -1:], hull, hull[:, :1]], 1)
    where[1] += 1
    reached = map_coordinates(around, where, order=1, mode="nearest")
    return np.asarray(np.maximum(reached - radius, 0) * torso)


def plain_cloth(body: Array, bust: Bust, part: Coarse, cut: Cut, tight: Array) -> Array:
    """Cloth (c, 3) laid on a body (c, 3).

    tight : (c,) 0..1, where it follows the body closely, such as round the neck
    """
    normal = smooth_normals(body, part.quads)
    for _ in range(4):
        normal = part.mean @ normal
    normal, close = unit(normal), tight[:, None]
    cloth = _bridged(body, normal, part, cut)
    cloth = cloth + close * (body + normal * cut.ease - cloth)
    below = smoothstep(0.0, 1.0, cloth[:, 1].max() - _ENVELOPE_TOP - cloth[:, 1])
    torso = 1 - smoothstep(0.35, 0.8, bust.arm[part.coarse])
    out = unit(normal * np.array([1.0, 0.0, 1.0]))
    # Beside the arms there is no room to hang loose.
    front = smoothstep(0.35, 0.8, np.abs(out[:, 2]))
    lift = cut.loose * below * front * _envelope(cloth, torso)
    return np.asarray(cloth + out * lift[:, None])
