"""A cloth wrapped round chest and arms below bare shoulders, as for a classic bust portrait."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index
from render.sitter.body import Surface
from render.sitter.shape.bust import Bust
from render.sitter.shape.surfaces import catmull_clark, smooth_normals, triangles_of
from render.sitter.wear.drape import Fabric, Hold, Solid, hung, lengths, threads_of
from render.sitter.wear.ribbon import grid_surface, ground, lifted, walked
from render.sitter.wear.shell import Wearer
from render.sitter.wear.trim import wound_surface
from render.sitter.wear.weaves import Colour, drapery

# Lengths in decimetres, set by eye.
SOFT = Fabric(slack=0.10, slack_along=0.03, crease=0.3, bend=0.15, weight=6e-5)
_EDGE = (  # the upper edge on the reference head, from the front over the arm to the back
    *((0.0, 4.80, 1.30), (0.9, 4.92, 1.25), (1.75, 4.72, 0.60), (1.95, 4.66, 0.0)),
    *((1.6, 4.80, -0.5), (0.0, 4.90, -0.75)),
)
_EASE, _ROUND, _TALL, _BELOW, _STEPS = 0.10, 150, 44, 0.75, 260
_HEM_WIDE, _HEM_THICK = 0.16, 0.035


def wrap(bust: Bust, wearer: Wearer, colour: Colour) -> tuple[tuple[Surface, ...], Array, Array]:
    """Surfaces in decimetres, and points with normals (k, 3) that hair lies on."""
    hull, normals = _hull(bust, wearer.still)
    rows = np.arange(_ROUND)[:, None] * _TALL + np.arange(_TALL - 1)
    after = (rows + _TALL) % (_ROUND * _TALL)
    quads = np.stack([rows, rows + 1, after + 1, after], -1).reshape(-1, 4)
    at = _draped(hull, normals, quads)
    cloth, faces = _finer(at, quads)
    grid = cloth[: _ROUND * _TALL].reshape(_ROUND, _TALL, 3)
    weave = drapery(colour)
    outward = smooth_normals(cloth, faces)
    if (outward * (cloth - cloth.mean(0)) * np.array([1, 0, 1])).sum() < 0:
        faces, outward = faces[:, ::-1], -outward
    turn = np.arctan2(cloth[:, 0], cloth[:, 2] - cloth[:, 2].mean()) / (2 * np.pi)
    flat = cloth[:, 1], weave
    sheet = wound_surface("top", cloth, outward, triangles_of(faces), turn, flat)
    base = ground(cloth, outward)
    strip = walked(base, grid[:, 0], grid[:, 2] - grid[:, 0], np.full(_ROUND, _HEM_WIDE), 10, True)
    t = np.linspace(0, 1, 10)
    lift = _HEM_THICK * np.clip(np.sin(np.pi * (0.05 + 0.9 * t)), 0, 1) ** 0.5
    roll = lifted(strip, np.tile(lift, (_ROUND, 1)), 1.5 * _HEM_THICK)
    roll = np.concatenate([roll, roll[:, :1]], 1)
    hem = grid_surface("hem", roll, True, weave, strip.normals[:, 1])
    return (sheet, hem), cloth, outward


def _edge_height(bust: Bust, vertices: Array, turn: Array) -> Array:
    """Height (k,) of the upper edge at azimuths [rad]."""
    tree = cKDTree(bust.reference)
    places = [(x * side, y, z) for side in (1, -1) for x, y, z in _EDGE]
    found = vertices[np.asarray(tree.query(np.array(places))[1])]
    angle = np.arctan2(found[:, 0], found[:, 2] - _middle(vertices)[1])
    order = np.argsort(angle)
    height = np.interp(turn, angle[order], found[order, 1], period=2 * np.pi)
    return np.asarray(gaussian_filter1d(height, 5, mode="wrap"))


def _middle(vertices: Array) -> Array:
    low = vertices[:, 1] < np.percentile(vertices[:, 1], 40)
    return np.array([0.0, 0.5 * (vertices[low, 2].min() + vertices[low, 2].max())])


def _hull(bust: Bust, vertices: Array) -> tuple[Array, Array]:
    """Plain cloth (round, tall, 3) stretched round chest and arms, and its outward normals."""
    turn = np.linspace(-np.pi, np.pi, _ROUND, endpoint=False)
    ray = np.stack([np.sin(turn), np.cos(turn)], 1)
    top, low = _edge_height(bust, vertices, turn), vertices[:, 1].min() - _BELOW
    flat = vertices[:, [0, 2]] - _middle(vertices)
    levels = np.linspace(top.max() + 0.1, low, 60)
    facing = ray @ ray.T
    reach = np.zeros((60, _ROUND))
    # The body ends at different heights before and behind; below, cloth hangs straight down.
    last = max(vertices[loop, 1].max() for loop in bust.loops) + 0.2
    for k, level in enumerate(levels):
        near = flat[np.abs(vertices[:, 1] - max(level, last)) < 0.2]
        support = (near @ ray.T).max(0)
        reach[k] = (support[None] / np.where(facing > 0.2, facing, 1e-3)).min(1)
    reach = gaussian_filter(reach, (1.5, 2), mode=("nearest", "wrap")) + _EASE
    share = np.linspace(0, 1, _TALL)
    y = top[:, None] + share[None] * (low - top[:, None])
    radius = np.stack([np.interp(-y[i], -levels, reach[:, i]) for i in range(_ROUND)])
    middle = _middle(vertices)
    points = np.stack([radius * ray[:, :1], y, radius * ray[:, 1:] + middle[1]], -1)
    normal = np.stack([ray[:, 0], 0 * turn, ray[:, 1]], 1)
    return points, np.repeat(normal[:, None], _TALL, 1)


def _draped(hull: Array, normals: Array, quads: Index) -> Array:
    start, out = hull.reshape(-1, 3), normals.reshape(-1, 3)
    threads = threads_of(quads, len(start), SOFT)
    rest = lengths(start, threads)
    upright = np.ptp(start[threads.pairs, 1], axis=1) / rest
    rest = rest * (1 + SOFT.slack + (SOFT.slack_along - SOFT.slack) * upright**2)
    row = np.tile(np.arange(_TALL), _ROUND)
    # Gathered a little at the edge, and swinging freely below.
    angle = np.repeat(np.arange(_ROUND), _TALL) / _ROUND * 2 * np.pi
    ripple = np.sin(17 * angle + 0.10 * row + 2 * np.sin(3 * angle)) + np.sin(
        9 * angle - 0.13 * row
    )
    begin = start + out * (0.02 * (1 + 0.5 * ripple) * np.clip(row / 6, 0, 1))[:, None]
    firm = np.where(row == 0, 0.3, np.where(row == _TALL - 1, 0.2, 5e-4))
    zero = np.zeros(len(start))
    solid = Solid(start - 0.03 * out, out, zero, 0.01)
    return hung(begin, rest, threads, solid, Hold(start, firm, zero), SOFT.weight, _STEPS)


def _finer(points: Array, quads: Index) -> tuple[Array, Index]:
    refine, finer = catmull_clark(quads, len(points))
    return np.asarray(sp.csr_matrix(refine) @ points), finer
