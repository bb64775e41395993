"""Dust in the air: particles too fine to be told apart, as soft puffs stirred by a draught."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.studio.element import Element

Floats = NDArray[np.float64]

PUFFS = 8000  # that stand for all particles of an element, at most
# Looks of stirred air, chosen by eye; no source.
PUFF_RADIUS = (0.03, 0.17)  # of half the cloud's spread (its geometric mean)
LEAST_RADIUS_M = 0.002
LONGEST, SHORTEST = 2.2, 0.12  # swirls, by half the spread
SWIRLS = 64
STIRRED = 0.22  # how far a swirl carries dust each time, by its own size over 2 pi
STIRS = 5


def hidden_m2(element: Element) -> float:
    """Mean area that all particles of an element hide together, one by one [m²].

    Of spheres pi d² / 4 each; sizes are even in stops, so that the mean of d² between a and b is
    (b² - a²) / (2 ln(b / a)).
    """
    least, most = (each / 1000 for each in element.size_mm)
    stretch = math.log(most / least)
    square = least**2 if stretch < 1e-6 else (most**2 - least**2) / (2 * stretch)
    return 0.25 * math.pi * square * element.count


def puff_sizes(element: Element, u: Floats) -> Floats:
    """Diameters (n,) [m] of puffs from numbers (n,) in 0..1, as many small ones as large ones."""
    half = [0.5 * each for each in element.spread_m if each > 0]
    mean = math.exp(sum(map(math.log, half)) / len(half)) if half else 0.0
    least, most = PUFF_RADIUS
    return np.asarray(2 * np.maximum(mean * least * (most / least) ** u, LEAST_RADIUS_M), float)


def puff_shares(sizes_m: Floats) -> Floats:
    """How much (n,) of the dust each puff holds; all are as dense."""
    volume = sizes_m**3
    return np.asarray(volume / volume.sum(), float)


def stirred(places: Floats, chance: np.random.Generator) -> Floats:
    """Places (n, 3) within -1..1, carried about by swirls of many sizes and kept in there.

    Dust is drawn out into wisps and leaves gaps; at the rim of the cloud the air is still.
    """
    share = np.arange(SWIRLS) / (SWIRLS - 1)
    size = LONGEST * (SHORTEST / LONGEST) ** share
    u = chance.random((SWIRLS, 5))
    ways, pushes = _directions(u[:, 0], u[:, 1]), _directions(u[:, 2], u[:, 3])
    waves = 2 * np.pi / size[:, None] * ways
    pushes *= (STIRRED * size / (2 * np.pi))[:, None]
    out = places.copy()
    for _ in range(STIRS):
        calm = np.clip(1 - (out**2).sum(1, keepdims=True), 0, 1)
        out = out + calm * (np.sin(out @ waves.T + 2 * np.pi * u[:, 4]) @ pushes)
        out = np.clip(out, -1, 1)
    return np.asarray(out, float)


def _directions(level: Floats, turn: Floats) -> Floats:
    """Unit vectors (n, 3), even over the sphere."""
    z, angle = 2 * level - 1, 2 * np.pi * turn
    flat = np.sqrt(1 - z**2)
    return np.stack([flat * np.cos(angle), flat * np.sin(angle), z], -1)
