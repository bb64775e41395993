"""What a clear smooth boundary mirrors: skin under its oil, varnish, the lens of spectacles."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
NODES = 400  # of the quadrature over angles; 1e-9 for the indices of glass and skin


def reflected(cosine: ArrayLike, refractive_index: float) -> Floats:
    """Share of unpolarised light that a boundary mirrors.

    cosine           : (...) float  of the angle to the normal, on the outside, 0 ... 1
    refractive_index : float        inside over outside, n >= 1
    returns          : (...) float  F = (rs² + rp²) / 2 [-]
    Source: Fresnel's equations.
    """
    c = np.asarray(cosine, np.float64)
    inner = np.sqrt(1 - (1 - c * c) / refractive_index**2)
    across = (c - refractive_index * inner) / (c + refractive_index * inner)
    along = (refractive_index * c - inner) / (refractive_index * c + inner)
    return np.asarray((across**2 + along**2) / 2)


@cache
def diffuse_external(refractive_index: float) -> float:
    """Share of light from all sides alike that a boundary mirrors [-].

    Fe = 2 ∫ F(c) c dc over the cosine c from 0 to 1, by Gauss-Legendre quadrature in c = t².
    """
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    t = (nodes + 1) / 2
    return float(np.sum(weights / 2 * 4 * t**3 * reflected(t**2, refractive_index)))


def diffuse_internal(refractive_index: float) -> float:
    """The same from within, total reflection included: Fi = 1 - (1 - Fe) / n² [-].

    Source: reciprocity of the two directions through the boundary.
    """
    return 1 - (1 - diffuse_external(refractive_index)) / refractive_index**2
