"""Cloth that hangs: a mesh of threads pulled by its weight, kept off the body, folding where slack.

Position based dynamics after Mueller et al., J. Vis. Commun. Image R. 18 (2007) 109, with all
constraints of a step averaged at once. Lengths in decimetres.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, dot

_DAMPING = 0.90  # share of the motion that lives on to the next step
_FOOT_EVERY = 12  # steps between two searches for the nearest skin
_STIFFEST = 1.0
_PARTED = 2.0  # [dm] by which arms are kept apart from the chest when the nearest skin is sought


@dataclass(frozen=True, slots=True, eq=False)
class Threads:
    """Pairs of cloth points that want to keep their distance."""

    pairs: Index  # (k, 2)
    pull: Array  # (k,) stiffness against being stretched, 0..1
    push: Array  # (k,) stiffness against being shortened, 0..1
    gather: sp.csr_matrix  # (n, k) adds a correction of every pair to its points, averaged


@dataclass(frozen=True, slots=True)
class Fabric:
    """How a cloth behaves; shares 0..1, set by eye on draped tops."""

    slack: float  # cloth is cut wider than the body by this share
    slack_along: float  # and longer by this share
    crease: float  # stiffness against being pressed together
    bend: float  # stiffness against being bent
    weight: float  # [dm] fall of a free point in one step


def _linked(pairs: Index, count: int) -> sp.csr_matrix:
    i, j = np.concatenate([pairs, pairs[:, ::-1]]).T
    return sp.csr_matrix((np.ones(len(i)), (i, j)), (count, count))


def _straight_on(sides: Index, crossing: Index, count: int) -> Index:
    """Pairs (k, 2) two steps apart along one thread: no neighbours, no corners of one quad."""
    beside = _linked(sides, count)
    across: Any = sp.triu(beside @ beside, 1).tocoo()
    lone = across.data < 1.5
    i, j = across.row[lone], across.col[lone]
    near: Any = beside + _linked(crossing, count)
    apart = np.asarray(near[i, j]).ravel() == 0
    return np.stack([i[apart], j[apart]], 1)


def threads_of(quads: Index, count: int, fabric: Fabric) -> Threads:
    """Sides, diagonals and stiffeners across every second point of a quad mesh (m, 4)."""
    sides = np.unique(
        np.sort(np.stack([quads, np.roll(quads, -1, 1)], -1).reshape(-1, 2), 1), axis=0
    )
    crossing = np.concatenate([quads[:, [0, 2]], quads[:, [1, 3]]])
    bends = _straight_on(sides, crossing, count)
    pairs = np.concatenate([sides, crossing, bends])
    sizes = len(sides), len(crossing), len(bends)
    pull = np.repeat([_STIFFEST, 0.5, fabric.bend], sizes)
    push = np.repeat([fabric.crease, 0.5 * fabric.crease, fabric.bend], sizes)
    k = np.arange(len(pairs))
    gather = sp.csr_matrix(
        (np.repeat([1.0, -1.0], len(k)), (pairs.T.ravel(), np.r_[k, k])), (count, len(k))
    )
    share = 1.6 / np.maximum(np.bincount(pairs.ravel(), minlength=count), 1)
    return Threads(pairs, pull, push, sp.csr_matrix(sp.diags(share) @ gather))


def lengths(points: Array, threads: Threads) -> Array:
    """Distance (k,) of every pair at points (n, 3)."""
    return np.asarray(
        np.linalg.norm(points[threads.pairs[:, 0]] - points[threads.pairs[:, 1]], axis=1)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """What cloth hangs on [dm]."""

    points: Array  # (b, 3)
    normals: Array  # (b, 3) outward
    arm: Array  # (b,) 0..1: sleeves (1) lie on arms (1), not on the chest beside them (0)
    gap: float  # cloth comes no closer


@dataclass(frozen=True, slots=True, eq=False)
class Hold:
    """Where cloth is held while it hangs."""

    target: Array  # (n, 3) [dm]
    firm: Array  # (n,) 0 free, 1 fixed
    arm: Array  # (n,) 0..1, as of the solid


def nearest(solid: Solid) -> Callable[[Array, Array], Index]:
    """A search for the solid's points nearest to points (n, 3) of arm (n,)."""
    tree = cKDTree(np.c_[solid.points, _PARTED * solid.arm])
    return lambda at, arm: np.asarray(tree.query(np.c_[at, _PARTED * arm])[1])


def pushed_out(points: Array, solid: Solid, foot: Index) -> Array:
    """Points (n, 3) moved along the normal of their foot (n,) until they clear the solid."""
    place, normal = solid.points.take(foot, 0), solid.normals.take(foot, 0)
    lack = solid.gap - dot(points - place, normal)
    return np.asarray(points + normal * np.maximum(lack, 0)[:, None])


def hung(
    start: Array,
    rest: Array,
    threads: Threads,
    solid: Solid,
    hold: Hold,
    weight: float,
    steps: int,
) -> Array:
    """Where the cloth comes to rest (n, 3).

    start : (n, 3) first guess;  rest : (k,) lengths of the threads as cut
    weight : [dm] fall of a free point in one step
    """
    at, before, find = start.copy(), start, nearest(solid)
    firm = hold.firm[:, None]
    i, j = np.ascontiguousarray(threads.pairs.T)
    for step in range(steps):
        if step % _FOOT_EVERY == 0:
            foot = find(at, hold.arm)
        moved = at + _DAMPING * (at - before)
        moved[:, 1] -= weight
        before = at
        apart = moved.take(j, 0) - moved.take(i, 0)
        length = np.sqrt(np.einsum("ij,ij->i", apart, apart))
        over = length - rest
        give = np.where(over > 0, threads.pull, threads.push) * over / np.maximum(length, 1e-9)
        moved = moved + threads.gather @ (0.5 * give[:, None] * apart)
        at = pushed_out(moved + firm * (hold.target - moved), solid, foot)
    return np.asarray(at)
