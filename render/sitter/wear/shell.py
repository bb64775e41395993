"""A cloth over the bust: cut with the arms lifted, hung with the arms down, then refined."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from render.sitter.arrays import Array, Index, Mask, smoothstep
from render.sitter.shape.bust import Bust
from render.sitter.shape.carried import neighbour_mean
from render.sitter.shape.surfaces import smooth_normals
from render.sitter.wear.drape import (
    Fabric,
    Hold,
    Solid,
    Threads,
    hung,
    lengths,
    nearest,
    pushed_out,
    threads_of,
)
from render.sitter.wear.pattern import (
    Coarse,
    Cut,
    calming,
    coarse_of,
    plain_cloth,
    raised,
)

# All lengths here in decimetres.
LEAST_GAP = 0.025  # finished cloth never comes closer to the skin
_HANG_GAP = 0.045  # the coarse cloth keeps this distance while it hangs
_HEM = 0.45  # cloth goes on below the end of the body
_PIT_AT, _PIT_REACH, _PIT_ROUNDS = np.array([1.42, 4.60, 0.15]), 0.85, 150  # armpits
_DRAWN = 0.05  # its weight draws the cloth down by this much


@dataclass(frozen=True, slots=True, eq=False)
class Wearer:
    """The skin that cloth lies on [dm]."""

    still: Array  # (n, 3) vertices with the head straight: cloth does not follow the head
    vertices: Array  # (n, 3) vertices with the head turned: cloth gives way to the neck
    normals: Array  # (n, 3) of the turned skin


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """An uncut top that hangs on the body [dm]."""

    cloth: Array  # (n, 3)
    normals: Array  # (n, 3) smooth, outward
    triangles: Index  # (m, 3)
    uv: Array  # (n, 2) [dm] along the cloth
    ids: Index  # (n,) bust vertices under the cloth
    reference: Array  # (n, 3) where the cloth would lie on the reference head
    mean: sp.csr_matrix  # (n, n) mean of the neighbours


def dressed(wearer: Wearer, under: Shell) -> Wearer:
    """The wearer with a first layer on, for the next one to hang on."""
    still, normals = wearer.vertices.copy(), wearer.normals.copy()
    still[under.ids], normals[under.ids] = under.cloth, under.normals
    return Wearer(still, still, normals)


def shell_of(bust: Bust, wearer: Wearer, fabric: Fabric, cut: Cut, tight: Array) -> Shell:
    """Hang a cloth on a sitter.

    tight : (n,) per bust vertex, 0..1: how firmly the cloth stays where it lies (round the neck)
    """
    lifted = raised(bust, wearer.still)
    cloth: Array | None = None
    part = coarse_of(bust, 2)
    # Broad folds first, on few points; then the small ones.
    for levels, steps in ((2, cut.broad), (1, cut.small)):
        before, part = part, coarse_of(bust, levels)
        close = tight[part.coarse]
        lying = plain_cloth(wearer.still[part.coarse], bust, part, cut, close)
        flat = plain_cloth(lifted[part.coarse], bust, part, cut, close)
        start = lying if cloth is None else cloth[np.searchsorted(before.fine, part.coarse)]
        body, arm = wearer.vertices[part.coarse], bust.arm[part.coarse]
        hem = part.hem > 0
        lying[hem, 1] = lying[:, 1].min() - _HEM
        flat[hem, 1] = flat[:, 1].min() - _HEM + _DRAWN
        threads = threads_of(part.quads, len(part.coarse), fabric)
        rest = _cut_lengths(threads, lying, flat, fabric, hem)
        solid = Solid(body, smooth_normals(body, part.quads), arm, _HANG_GAP)
        firm = np.maximum(np.maximum(0.5 * close, cut.stiff), part.hem)
        at = hung(start, rest, threads, solid, Hold(lying, firm, arm), fabric.weight, steps)
        cloth = np.asarray(part.refine @ (calming(bust, levels) @ at))
    return _finished(bust, wearer, part, np.asarray(cloth))


def _cut_lengths(threads: Threads, lying: Array, flat: Array, fabric: Fabric, hem: Mask) -> Array:
    """Lengths (k,) of the threads as cut."""
    rest = lengths(flat, threads)
    # Cloth is cut wider than the body, less so longer: the hem would only hang lower.
    upright = np.ptp(flat[threads.pairs, 1], axis=1) / rest
    rest = rest * (1 + fabric.slack + (fabric.slack_along - fabric.slack) * upright**2)
    at_hem = hem[threads.pairs].any(1)
    return np.asarray(np.where(at_hem, np.minimum(rest, lengths(lying, threads)), rest))


def _finished(bust: Bust, wearer: Wearer, part: Coarse, cloth: Array) -> Shell:
    solid = Solid(
        wearer.vertices[part.fine], wearer.normals[part.fine], bust.arm[part.fine], LEAST_GAP
    )
    find = nearest(solid)
    cloth = _eased(bust.reference[part.fine], cloth, neighbour_mean(part.triangles, len(cloth)))
    for _ in range(2):
        cloth = pushed_out(cloth, solid, find(cloth, solid.arm))
    return Shell(
        cloth,
        smooth_normals(cloth, part.triangles),
        part.triangles,
        _in_dm(bust.cloth_uv[part.fine], cloth, part.triangles),
        part.fine,
        bust.reference[part.fine],
        neighbour_mean(part.triangles, len(part.fine)),
    )


def _eased(reference: Array, cloth: Array, mean: sp.csr_matrix) -> Array:
    """Cloth (n, 3) without the pouch that is left pressed together in either armpit."""
    mirrored = np.abs(reference) * [1, 0, 0] + reference * [0, 1, 1]
    away = np.linalg.norm(mirrored - _PIT_AT, axis=1)
    weight = smoothstep(_PIT_REACH, 0.4 * _PIT_REACH, away)[:, None]
    moved = np.flatnonzero(weight)
    weight, mean, cloth = weight[moved], mean[moved], cloth.copy()
    for _ in range(_PIT_ROUNDS):
        cloth[moved] += weight * (mean @ cloth - cloth[moved])
    return cloth


def smoothed(mean: sp.csr_matrix, values: Array, rounds: int) -> Array:
    """Values (n, ...) on the cloth averaged with their neighbours so many times."""
    for _ in range(rounds):
        values = np.asarray(mean @ values)
    return values


def _in_dm(uv: Array, cloth: Array, triangles: Index) -> Array:
    """Flat coordinates (n, 2) scaled so that one unit is one decimetre of cloth."""
    side = np.linalg.norm(cloth[triangles] - np.roll(cloth[triangles], 1, 1), axis=2).sum(1)
    flat = np.linalg.norm(uv[triangles] - np.roll(uv[triangles], 1, 1), axis=2).sum(1)
    return np.asarray(uv * np.median(side / np.maximum(flat, 1e-9)))


def tightness(reference: Array, line: Array, reach: float) -> Array:
    """Hold (n,) of a neckline: firm on it and above, fading within a reach below [dm]."""
    return smoothstep(-reach, -0.2 * reach, reference[:, 1] - line)
