"""How strands gather: between guides, into locks, with waves, frizz, flyaways and uneven ends."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, Rng, smoothstep, unit
from render.sitter.hair.strands import resampled

_NEAR = 4  # guides that a strand may follow
_APART = (0.5, 0.9)  # [dm] guides whose tips are farther apart than this are not mixed


def filled(guides: Array, roots: Array, side: Index, rng: Rng) -> Array:
    """Strands (n, k, 3) that follow the guides (g, k, 3) round their roots.

    roots : (n, 3), the first g of them those of the guides
    side  : (n,) strands follow only guides of their own side of a parting
    """
    g, k, _ = guides.shape
    out = np.concatenate([guides, np.zeros((len(roots) - g, k, 3))])
    offset = guides - guides[:, 1:2]
    for name in np.unique(side[g:]):
        mine = g + np.flatnonzero(side[g:] == name)
        led = np.flatnonzero(side[:g] == name)
        led = led if len(led) >= _NEAR else np.arange(g)
        distance, found = cKDTree(guides[led, 1]).query(roots[mine], k=_NEAR)
        found = led[np.asarray(found)]
        # One guide mostly leads, so that strands keep a way of their own.
        weight = rng.random(found.shape) ** 3 / (np.asarray(distance) + 0.01)
        gap = np.linalg.norm(offset[found, -1] - offset[found[:, :1], -1], axis=2)
        weight *= smoothstep(_APART[1], _APART[0], gap)
        weight[:, 0] += 1e-6
        weight /= weight.sum(1, keepdims=True)
        for j in range(_NEAR):
            out[mine] += weight[:, j, None, None] * offset[found[:, j]]
        out[mine] += roots[mine][:, None]
    return out


def gather(
    strands: Array, locks: int, amount: float, power: float, rng: Rng, loose: float
) -> Array:
    """Draw strands (n, k, 3) towards the guide of their lock, more towards the tips."""
    n = len(strands)
    guides = rng.choice(n, min(locks, n), replace=False)
    near = min(3, len(guides))
    jitter = rng.standard_normal((n, 3)) * 0.012
    _, order = cKDTree(strands[guides, 1]).query(strands[:, 1] + jitter, k=near)
    order = order.reshape(n, near)
    second = np.where(rng.random(n) > 0.8, 1, 0) if near > 1 else np.zeros(n, int)
    return drawn_to(strands, guides[order[np.arange(n), second]], (amount, power, loose), rng)


def drawn_to(strands: Array, guide: Index, how: tuple[float, float, float], rng: Rng) -> Array:
    """Strands (n, k, 3) drawn towards those numbered `guide` (n,).

    how : amount 0..1, power of its rise towards the tips, share of strands that stay loose
    """
    (amount, power, loose), (n, k, _) = how, strands.shape
    to = strands[guide]
    pull = np.clip(amount * rng.uniform(0.6, 1.15, n), 0, 0.97)
    pull[rng.random(n) < loose] *= 0.15
    # A strand is never dragged across the head.
    pull *= smoothstep(1.6, 0.5, np.linalg.norm(to[:, -1] - strands[:, -1], axis=1))
    share = pull[:, None, None] * np.linspace(0, 1, k)[None, :, None] ** power
    return np.asarray(strands * (1 - share) + to * share)


def frizz(strands: Array, amplitude: float, power: float, rng: Rng, stray: float) -> Array:
    """Small bends of every strand (n, k, 3) [dm]; a share `stray` bends three times as much."""
    n, k, _ = strands.shape
    s = np.linspace(0, 1, k)[None, :, None]
    bend = np.zeros_like(strands)
    for waves, size in ((0.9, 1.0), (2.0, 0.5), (4.0, 0.2)):
        phase = rng.random((n, 1, 3)) * 2 * np.pi
        bend += size * rng.standard_normal((n, 1, 3)) * np.sin(2 * np.pi * waves * s + phase)
    bend = (bend - bend[:, 1:2]) * s**power
    scale = np.where(rng.random(n) < stray, 3.0 * amplitude, amplitude)
    bend[:, 0] = 0
    return np.asarray(strands + bend * scale[:, None, None])


def wave(strands: Array, locks: int, amplitude: float, length: float, rng: Rng) -> Array:
    """Soft S-waves shared by the strands of a lock; amplitude and wave length [dm]."""
    n = len(strands)
    guides = rng.choice(n, min(locks, n), replace=False)
    _, lock = cKDTree(strands[guides, 1]).query(strands[:, 1])
    phase = rng.random(len(guides))[lock] * 2.5 + 0.35 * rng.standard_normal(n)
    pieces = np.linalg.norm(np.diff(strands, axis=1), axis=2)
    run = np.concatenate([np.zeros((n, 1)), np.cumsum(pieces, 1)], 1)
    tangent = unit(np.gradient(strands, axis=1))
    sideways = unit(np.cross(tangent, np.array([0.0, 1.0, 0.0]) + 0.3 * tangent))
    upright = np.cross(sideways, tangent)
    angle = (2 * np.pi * run / length + phase[:, None])[..., None]
    swing = sideways * np.sin(angle) + 0.6 * upright * np.cos(angle)
    return np.asarray(strands + smoothstep(0.1, 1.0, run)[..., None] * amplitude * swing)


def flyaways(strands: Array, centre: Array, share: float, reach: float, rng: Rng) -> Array:
    """The strands with a share of them standing off, away from the head's centre [dm]."""
    n, k, _ = strands.shape
    out = strands.copy()
    chosen = np.flatnonzero(rng.random(n) < share)
    away = unit(strands[chosen, -1] - centre) + 0.9 * rng.standard_normal((len(chosen), 3))
    s = np.linspace(0, 1, k)[None, :, None]
    size = reach * rng.random((len(chosen), 1, 1)) ** 1.5
    out[chosen] += size * away[:, None] * s**1.7
    return out


def shortened(strands: Array, share: Array) -> Array:
    """Strands cut to a share (n,) of their points' run; the root stays."""
    last = strands.shape[1] - 1
    return resampled(strands, 1 + (last - 1) * share, strands.shape[1])
