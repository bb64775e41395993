"""What a gel lets through: its luminous transmission and its colour brought together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from render.photometry.colour import (
    FLASH_K,
    balanced_srgb,
    correction,
    lamp,
    luminous_transmission,
    srgb_from_light,
    tristimulus,
)
from render.photometry.number import Floats
from render.photometry.observer import OBSERVER, WAVELENGTH_NM
from render.photometry.srgb import LUMINANCE_SHARES

REFERENCE_LAMP = lamp(FLASH_K)  # the light on which a gel's luminous transmission is stated


def correction_factor(shift_mired: float, transmission: float) -> float:
    """What the ideal curve of a correction gel is multiplied by [-].

    shift_mired  : [mired];  transmission : luminous, on a flash [-]
    A real gel flattens out in the far red (or blue), where the ideal curve would let through more
    than it gets; the eye sees little there. Its luminous transmission is the stated one.
    """
    ideal = correction(FLASH_K, shift_mired)
    return transmission / luminous_transmission(REFERENCE_LAMP, ideal)


def most_of_correction(shift_mired: float) -> float:
    """Luminous transmission [-] that no sheet of this hue can exceed; at most 1.

    A channel is brightest behind a sheet that lets all light through that adds to it and none that
    takes from it (sRGB's channels are negative at some wavelengths).
    """
    white = tristimulus(REFERENCE_LAMP)
    matrix = srgb_from_light(white)
    channels = (REFERENCE_LAMP[:, None] * OBSERVER) @ matrix.T / white[1]
    brightest = np.maximum(channels, 0.0).sum(0)
    hue = balanced_srgb(tristimulus(REFERENCE_LAMP * correction(FLASH_K, shift_mired)), white)
    return min(1.0, float((brightest / hue).min()))


def grey_share(density: float | None, transmission: float | None) -> float:
    """Transmission of a neutral gel [-]: 10^-density, or as it is stated."""
    return 10.0**-density if density is not None else (transmission or 1.0)


def rgb_share(rgb: Sequence[float], transmission: float | None) -> Floats:
    """Transmission (3,) by channel, scaled to a luminous one on a flash where that is stated."""
    channels = np.array(rgb, dtype=np.float64)
    scale = 1.0 if transmission is None else transmission / (channels @ LUMINANCE_SHARES)
    return channels * scale


def measured_share(
    wavelengths_nm: Sequence[float], spectrum: Sequence[float], transmission: float | None
) -> Floats:
    """Transmission (85,) of a measured curve, its ends carried on; scaled where stated."""
    curve: Floats = np.interp(WAVELENGTH_NM, wavelengths_nm, spectrum)
    if transmission is None or not curve.any():
        return curve
    return curve * (transmission / luminous_transmission(REFERENCE_LAMP, curve))
