"""The sRGB curve between linear light and picture values."""

from __future__ import annotations

from typing import cast

import numpy as np

from render.photometry.number import Floats, Number

# IEC 61966-2-1: straight piece near black, power law above.
LINEAR_BREAK, CODE_BREAK = 0.0031308, 0.04045
SLOPE, GAIN, OFFSET, GAMMA = 12.92, 1.055, 0.055, 2.4

# Share of each primary in luminance; IEC 61966-2-1 (ITU-R BT.709 primaries, D65 white).
LUMINANCE_SHARES = np.array([0.2126, 0.7152, 0.0722])


def srgb_encode(linear: Number) -> Number:
    """Picture value of linear light.

    linear  : (...) float  >= 0, 1 is white; values above 1 are not clipped
    returns : (...) float  encoded, 1 is code 255
    Source: IEC 61966-2-1.
    """
    curve = GAIN * np.power(np.maximum(linear, LINEAR_BREAK), 1 / GAMMA) - OFFSET
    return cast(Number, np.where(linear <= LINEAR_BREAK, SLOPE * linear, curve)[()])


def srgb_decode(encoded: Number) -> Number:
    """Linear light (...) of an encoded picture value (...), 1 is white. Source: IEC 61966-2-1."""
    curve = np.power((np.maximum(encoded, CODE_BREAK) + OFFSET) / GAIN, GAMMA)
    return cast(Number, np.where(encoded <= CODE_BREAK, encoded / SLOPE, curve)[()])


def luminance(linear_rgb: Floats) -> Floats:
    """Luminance (...) of linear sRGB (..., 3), same scale: white (1, 1, 1) is 1."""
    y: Floats = linear_rgb @ LUMINANCE_SHARES
    return y
