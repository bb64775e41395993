"""Folds of the cloth, laid out on the reference head so that they follow every body."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, bell

FOLD_DM = 0.034  # height of a typical fold; set by eye


def _ridge(phase: Array, sharpness: float) -> Array:
    return np.asarray((1 - np.abs(np.sin(phase))) ** sharpness)


def folds(reference: Array, seed: int) -> Array:
    """Height (n,) [dm] of the cloth over its smooth drape at points (n, 3) [dm]."""
    rng = np.random.default_rng(seed)
    x, y, z = reference.T
    ax = np.abs(x)
    soft = np.zeros(len(x))
    for _ in range(26):
        direction = rng.standard_normal(3) * [2.56, 1.28, 2.56]
        soft += np.sin(reference @ direction + rng.random() * 2 * np.pi) / np.sqrt(26)
    bend = 0.25 * np.sin(3 * x + 5 * y + rng.random() * 6) + 0.2 * soft
    # Drag lines run from the armpit to the shoulder and across the chest.
    drag = _ridge((0.55 * ax + y) * 7.5 + 1.6 * bend + 0.6 * x, 2.2)
    drag = drag * bell(ax, 1.30, 0.38) * bell(y, 4.75, 0.48)
    hang = _ridge(5.5 * x + 1.2 * bend + 0.6 * y, 2.0) * bell(y, 3.7, 0.6) * (ax < 1.3)
    sleeve = _ridge((0.9 * y + 0.5 * z) * 8 + 1.5 * bend, 2.0)
    sleeve = sleeve * np.clip((ax - 1.45) / 0.25, 0, 1) * np.clip((5.1 - y) / 0.5, 0, 1)
    collar = _ridge((ax - 0.55 * y) * 8 + bend, 2.5)
    collar = 0.45 * collar * bell(ax, 0.75, 0.3) * bell(y, 5.45, 0.25)
    return np.asarray(FOLD_DM * (0.30 * soft + 0.9 * drag + 0.8 * hang + 0.25 * sleeve + collar))
