"""Hair comes to rest on shoulders and collar, or ends where it would go under them."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Mask
from render.sitter.hair.roots import Outside
from render.sitter.hair.strands import resampled

SUNK = 0.005  # [dm] how deep a point may lie under the surface
_FIRST = 2  # the root and the point below it lie in the skin
_ROUNDS = 10
_SHORTEST = 0.3  # share of its length that a strand keeps at least


def sunk(outside: Outside, strands: Array) -> Mask:
    """Which pieces (n, k - 3) of strands (n, k, 3) past the root have an end or middle sunk."""
    body = strands[:, _FIRST:]
    low = _sunk_points(outside, body)
    middle = _sunk_points(outside, 0.5 * (body[:, 1:] + body[:, :-1]))
    return np.asarray(low[:, 1:] | low[:, :-1] | middle)


def _sunk_points(outside: Outside, points: Array) -> Mask:
    return outside.buried(points.reshape(-1, 3), SUNK).reshape(points.shape[:2])


def rested(outside: Outside, strands: Array, height: float) -> tuple[Array, Mask]:
    """Strands with their sunk pieces lifted to a height [dm], and which of them are good.

    What still goes under ends before it does; strands with too little left are not good.
    """
    out = strands.copy()
    low = np.flatnonzero(sunk(outside, out).any(1))
    for _ in range(_ROUNDS):
        if len(low) == 0:
            break
        out[low] = _lifted(outside, out[low], height)
        low = low[sunk(outside, out[low]).any(1)]
    under = sunk(outside, out[low])
    end = _FIRST + under.argmax(1) - 1.0
    last = out.shape[1] - 1
    out[low] = resampled(out[low], np.maximum(end, 2), out.shape[1], 1.35)
    good = np.ones(len(out), bool)
    good[low] = (end > _SHORTEST * last) & ~sunk(outside, out[low]).any(1)
    return out, good


def _lifted(outside: Outside, strands: Array, height: float) -> Array:
    """Points moved out of the surface where they, or the middles beside them, are too low."""
    body = strands[:, _FIRST:]
    step = _lack(outside, body, height)
    beside = _lack(outside, 0.5 * (body[:, 1:] + body[:, :-1]), height)
    for part, own in ((step[:, 1:], beside), (step[:, :-1], beside)):
        more = (own**2).sum(2) > (part**2).sum(2)
        part[more] = own[more]
    # Neighbours give way too, so that no strand kinks.
    spread = step.copy()
    spread[:, 1:-1] = 0.5 * step[:, 1:-1] + 0.25 * (step[:, 2:] + step[:, :-2])
    larger = (spread**2).sum(2) > (step**2).sum(2)
    step[larger] = spread[larger]
    out = strands.copy()
    out[:, _FIRST:] += step
    return out


def _lack(outside: Outside, points: Array, height: float) -> Array:
    """What points (n, k, 3) have to move to lie at a height over the surface."""
    q = points.reshape(-1, 3)
    step = np.zeros_like(q)
    near = np.flatnonzero(outside.near(q, height) | outside.buried(q, 0.0))
    h, normal = outside(q[near])
    step[near] = normal * np.maximum(height - h, 0)[:, None]
    return step.reshape(points.shape)
