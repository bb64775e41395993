"""Small array helpers that every part of the sitter shares: smooth steps, unit vectors, names."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]
Index = NDArray[np.integer[Any]]
Mask = NDArray[np.bool_]
Rng = np.random.Generator

M_PER_DM = 0.1  # the head data are in decimetres; the sitter leaves in metres


def smoothstep(low: float | Array, high: float | Array, x: float | Array) -> Array:
    """Cubic ramp from 0 at `low` to 1 at `high` (also downwards, when high < low)."""
    t = np.clip((np.asarray(x) - low) / (np.asarray(high) - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def dot(a: Array, b: Array) -> Array:
    """Scalar products (...) of vectors (..., 3); quicker than a sum over so short an axis."""
    x, y, z = (a[..., k] * b[..., k] for k in range(3))
    return np.asarray(x + y + z)


def length(v: Array) -> Array:
    """Lengths (...) of vectors (..., 3)."""
    return np.asarray(np.sqrt(dot(v, v)))


def unit(v: Array) -> Array:
    """Vectors (..., 3) scaled to length 1; a zero vector stays zero."""
    return np.asarray(v / np.maximum(length(v), 1e-12)[..., None])


def along(v: Array, normal: Array) -> Array:
    """Unit part of `v` (..., 3) that lies in the surface with this unit normal (..., 3)."""
    return unit(v - normal * (v * normal).sum(-1, keepdims=True))


def bell(x: Array, centre: float, width: float) -> Array:
    """Gaussian bump of height 1."""
    return np.asarray(np.exp(-0.5 * ((x - centre) / width) ** 2))


def barycentric(count: int, rng: Rng) -> Array:
    """Uniform barycentric weights (count, 3)."""
    u = rng.random((count, 2))
    root = np.sqrt(u[:, 0])
    return np.stack([1 - root, root * (1 - u[:, 1]), root * u[:, 1]], 1)
