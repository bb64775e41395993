"""Which way dust sends on the light that falls on it."""

from __future__ import annotations

import math
from typing import Any

# Mean cosine between the ways of light before and after. Of crushed, clear grains much larger than
# a wavelength, without what is only bent round their rims: between 0.4 and 0.6; from memory.
FORWARD = 0.5


def phase(cosine: Any, forward: float = FORWARD) -> Any:
    """Share of scattered light per solid angle [1/sr], by the cosine between its ways before and
    after. Source: L. Henyey and J. Greenstein, Astrophysical Journal 93 (1941) 70.
    """
    square = 1 + forward * forward - 2 * forward * cosine
    return (1 - forward * forward) / (4 * math.pi * square * square**0.5)


def drawn_cosine(u: Any, forward: float = FORWARD) -> Any:
    """A cosine as often as `phase` sends light there, from a number in 0..1; forward is not 0.

    The inverse of the phase function's integral (integrated by hand).
    """
    bent = (1 - forward * forward) / (1 - forward + 2 * forward * u)
    return (1 + forward * forward - bent * bent) / (2 * forward)
