"""A filled detail must leave no trace, and nothing around it may move."""

from __future__ import annotations

import numpy as np

from render.sitter.shape.fill import fill
from render.sitter.shape.surfaces import triangles_of


def test_a_bump_on_a_tilted_plane_is_gone() -> None:
    """The least bent surface that continues a plane is the plane itself."""
    side = 21
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(-1, 1, side), np.linspace(-1, 1, side)))
    i = (np.arange(side - 1)[:, None] * side + np.arange(side - 1)).ravel()
    triangles = triangles_of(np.stack([i, i + 1, i + side + 1, i + side], 1))
    plane = np.stack([x, y, 0.3 * x - 0.2 * y], 1)
    inside = np.hypot(x, y) < 0.45
    bumpy = plane.copy()
    bumpy[inside, 2] += 0.2 * np.random.default_rng(3).random(inside.sum())
    filled = fill(plane, triangles, inside) @ bumpy
    assert np.abs(filled - plane).max() < 1e-4
    assert (filled[~inside] == bumpy[~inside]).all()
