"""How much light a rough metal such as silver cloth gives back, by the model of tiny mirrors."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
ANGLES, TILTS, TURNS = 32, 96, 64  # quadrature: 5e-5 of the whole at roughness 0.1 to 0.5
FREE = 1.6  # of 1 / (alpha · tangent): flatter light is never shadowed; eq. 27


def single_share(roughness: float) -> float:
    """Share of light from all sides that leaves after one reflection, facets losing none [-].

    roughness : float  width alpha of the distribution of facets, above 0 to 1
    Source: Walter et al. 2007, "Microfacet models for refraction through rough surfaces",
    Beckmann's distribution with separable shadowing (eq. 25 to 27): what one facet throws at
    another is lost to the model. Mean over the hemisphere, 2 ∫ E(c) c dc.
    """
    nodes, weights = np.polynomial.legendre.leggauss(ANGLES)
    cosines, weights = (nodes + 1) / 2, weights / 2
    shares = np.array([_from(float(c), roughness) for c in cosines])
    return float(np.sum(2 * weights * cosines * shares))


def _from(cosine: float, roughness: float) -> float:
    """The same for light from one direction: mean over facets drawn by what they cover."""
    share = (np.arange(TILTS) + 0.5) / TILTS
    turn = (np.arange(TURNS) + 0.5) * 2 * np.pi / TURNS
    slope = roughness * np.sqrt(-np.log1p(-share))[:, None]
    upright = 1 / np.sqrt(1 + slope**2)
    sine = np.sqrt(1 - cosine**2)
    meets = sine * upright * slope * np.cos(turn) + cosine * upright  # direction · facet
    out = 2 * meets * upright - cosine  # cosine of the mirrored direction
    seen = (meets > 0) & (out > 0)
    away = np.where(seen, out, 1.0)
    passed = _unshadowed(np.array(cosine), roughness) * _unshadowed(away, roughness)
    return float(np.mean(np.where(seen, passed * meets / (cosine * upright), 0.0)))


def _unshadowed(cosine: Floats, roughness: float) -> Floats:
    with np.errstate(divide="ignore"):
        a = cosine / (roughness * np.sqrt(1 - cosine**2))
    b = np.minimum(a, FREE)
    found = (3.535 * b + 2.181 * b**2) / (1 + 2.276 * b + 2.577 * b**2)
    result: Floats = np.where(a < FREE, found, 1.0)
    return result
