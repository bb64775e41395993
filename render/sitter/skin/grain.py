"""Patterns that repeat over the skin unseen: noise, pores, the fine lattice of lines."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter, zoom
from scipy.spatial import cKDTree

from render.sitter.arrays import Array, Index, Rng

TILE = 512  # patterns finer than a finger's breadth are one tile, repeated [texels]
_KINDS = 4  # different tiles of noise of one width
_COARSE = 3.0  # wide noise is drawn on a grid this much finer than its width


@lru_cache(maxsize=32)
def _noise_tile(sigma: float, kind: int) -> Array:
    rng = np.random.default_rng((71, kind))
    tile = rng.standard_normal((TILE, TILE)).astype(np.float32)
    tile = gaussian_filter(tile, sigma, mode="wrap")
    return np.asarray(tile / tile.std())


def _places(spacing: float, rng: Rng) -> Array:
    """Points (n, 2) on the tile, one in each cell of a grid, shaken [texels]."""
    n = max(2, round(TILE / spacing))
    grid = np.stack(np.meshgrid(np.arange(n), np.arange(n)), -1).reshape(-1, 2)
    return np.asarray((grid + rng.uniform(0, 1, grid.shape)) * (TILE / n) % TILE)


def _nearest(places: Array, count: int) -> tuple[Array, Index]:
    """Distances and numbers (TILE * TILE, count) of the points nearest to every texel's centre."""
    axis = np.arange(TILE) + 0.5
    centres = np.stack(np.meshgrid(axis, axis), -1).reshape(-1, 2)
    tree: Any = cKDTree(places, boxsize=np.array([TILE, TILE]))
    far, which = tree.query(centres, k=list(range(1, count + 1)))
    return far, which


@lru_cache(maxsize=4)
def _lattice_tile(spacing: float, width: float) -> Array:
    places = _places(spacing, np.random.default_rng(72))
    near, _ = _nearest(places, 2)
    edge = (near[:, 1] - near[:, 0]).reshape(TILE, TILE)
    return np.asarray(np.exp(-((edge / width) ** 2)), np.float32)


@lru_cache(maxsize=4)
def _pore_tile(spacing: float, radius: float) -> Array:
    rng = np.random.default_rng(73)
    places = _places(spacing, rng)
    far, which = _nearest(places, 1)
    size = rng.uniform(0.25, 1.0, len(places))[which]
    pit = size * np.exp(-((far / (radius * (0.6 + 0.5 * size))) ** 2))
    return np.asarray(pit.reshape(TILE, TILE), np.float32)


def _spread(tile: Array, shape: tuple[int, int], rng: Rng) -> Array:
    """The tile, moved by chance, repeated over a map (h, w)."""
    moved = np.roll(tile, rng.integers(0, TILE, 2), (0, 1))
    repeats = -(-shape[0] // TILE), -(-shape[1] // TILE)
    return np.asarray(np.tile(moved, repeats)[: shape[0], : shape[1]])


def fine_noise(shape: tuple[int, int], sigma: float, rng: Rng) -> Array:
    """Noise (h, w) of unit variance, this wide [texels]; up to about 10 texels."""
    kind = int(rng.integers(_KINDS))
    return _spread(_noise_tile(round(max(sigma, 0.5), 3), kind), shape, rng)


def wide_noise(shape: tuple[int, int], sigma: float, rng: Rng) -> Array:
    """Noise (h, w) of unit variance, this wide [texels], joined in azimuth."""
    coarse = max(1, int(sigma / _COARSE))
    size = shape[0] // coarse + 3, max(4, shape[1] // coarse)
    grain = rng.standard_normal(size).astype(np.float32)
    grain = gaussian_filter(grain, sigma / coarse, mode=["nearest", "wrap"])
    if coarse > 1:
        grain = zoom(np.pad(grain, ((0, 0), (0, 3)), "wrap"), coarse, order=1)
    grain = grain[: shape[0], : shape[1]]
    return np.asarray((grain - grain.mean()) / grain.std())


def lattice(shape: tuple[int, int], spacing: float, width: float, rng: Rng) -> Array:
    """Lines (h, w), 1 in their middle, round cells this far apart [texels]."""
    return _spread(_lattice_tile(round(spacing, 3), round(width, 3)), shape, rng)


def pores(shape: tuple[int, int], spacing: float, radius: float, rng: Rng) -> Array:
    """Pits (h, w) of unequal size, at most 1 deep, this far apart [texels]."""
    return _spread(_pore_tile(round(spacing, 3), round(radius, 3)), shape, rng)
