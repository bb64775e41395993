"""How the two kinds of incident meter weigh light by its direction."""

from __future__ import annotations

from typing import Literal

import numpy as np

from render.photometry.exposure import C_DOME, C_FLAT
from render.photometry.number import Number

Receptor = Literal["flat", "dome"]
CONSTANTS: dict[Receptor, float] = {"flat": C_FLAT, "dome": C_DOME}  # [lx·s]


def flat_response(cosine: Number) -> Number:
    """Response of a flat receptor [-]: the cosine, nothing from behind.

    cosine : (...) float  of the angle between the meter's axis and the light, -1 ... 1
    Source: ISO 2720:1974, cosine-responding receptor.
    """
    response: Number = np.maximum(cosine, 0.0)
    return response


def dome_response(cosine: Number) -> Number:
    """Response of a dome [-]: (1 + cos) / 2, a cardioid; half from the side, nothing from behind.

    cosine : (...) float  of the angle between the meter's axis and the light, -1 ... 1
    Source: ISO 2720:1974, cardioid-responding receptor; an ideal one.
    """
    return 0.5 * (1.0 + cosine)
