"""What gels do to a light: how much they take, and which colour is left."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from render.photometry.colour import (
    FLASH_K,
    LEAST_MIRED,
    balanced_srgb,
    correction,
    correlated_temperature,
    lamp,
    luminous_transmission,
    mired,
    tristimulus,
)
from render.photometry.gels import correction_factor, grey_share, measured_share, rgb_share
from render.photometry.number import Floats
from render.photometry.srgb import LUMINANCE_SHARES
from render.studio.gel import Gel

WHITE = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Tint:
    """A lamp behind its gels, seen by a camera of some white balance."""

    transmission: float  # luminous, of all gels together on this lamp
    colour: tuple[float, float, float]  # linear sRGB, scaled to luminance 1
    colour_temperature_k: float | None  # None where the light is too far from any white

    @property
    def loss_stops(self) -> float:
        """What the gels take [stops]; infinite where nothing comes through."""
        return -math.log2(self.transmission) if self.transmission > 0 else math.inf

    @property
    def channels(self) -> tuple[float, float, float]:
        """Red, green and blue that are left of a light of luminance 1 [-]."""
        red, green, blue = (self.transmission * c for c in self.colour)
        return red, green, blue


def tint(
    lamp_k: float, gels: Sequence[Gel] = (), density: float = 0.0, white_k: float = FLASH_K
) -> Tint:
    """Light of a lamp behind gels.

    lamp_k, white_k : float  colour temperature of the lamp, and the one that the camera is
                      balanced to [K], 1500 ... 25000
    gels            : in any order
    density         : optical density of a neutral sheet besides [-]
    Filters multiply: grey ones and measured ones wavelength by wavelength; correction gels as one
    ideal filter of the sum of their shifts, scaled by what each is stated to let through; rgb gels
    channel by channel. So stops add exactly with grey gels, while a second coloured one meets
    light that the first has coloured already.
    """
    bare = lamp(lamp_k)
    filtered = bare * spectral_share(lamp_k, gels) * 10.0**-density
    share = luminous_transmission(bare, filtered / bare)
    channels = [rgb_share(gel.rgb, gel.transmission) for gel in gels if gel.rgb is not None]
    if share <= 0:
        return Tint(0.0, WHITE, None)
    rgb = balanced_srgb(tristimulus(filtered), tristimulus(lamp(white_k)))
    if channels:
        rgb = np.maximum(rgb, 0.0) * np.prod(channels, axis=0)  # no negative light gets through
        left = float(rgb @ LUMINANCE_SHARES)
        if left <= 0:
            return Tint(0.0, WHITE, None)
        share, rgb = share * left, rgb / left
    red, green, blue = (float(c) for c in rgb)
    return Tint(share, (red, green, blue), _temperature(lamp_k, gels, filtered))


def spectral_share(lamp_k: float, gels: Sequence[Gel]) -> Floats:
    """Transmission (85,) of all gels but those of rgb on a lamp of this temperature [K]."""
    together = correction(lamp_k, sum(gel.mired or 0.0 for gel in gels))
    for gel in gels:
        together = together * _share(gel)
    return together


def _share(gel: Gel) -> Floats | float:
    """A gel's own curve; of a correction gel the factor that goes with the common curve."""
    if gel.mired is not None:
        return correction_factor(gel.mired, gel.transmission or 1.0)
    if gel.spectrum is not None and gel.wavelengths_nm is not None:
        return measured_share(gel.wavelengths_nm, gel.spectrum, gel.transmission)
    return grey_share(gel.density, gel.transmission) if gel.rgb is None else 1.0


def _temperature(lamp_k: float, gels: Sequence[Gel], filtered: Floats) -> float | None:
    """By the sum of the shifts, as it is done by hand; of measured curves the correlated one."""
    if any(gel.rgb for gel in gels):
        return None
    if any(gel.spectrum for gel in gels):
        return correlated_temperature(tristimulus(filtered))
    left = mired(lamp_k) + sum(gel.mired or 0.0 for gel in gels)
    return 1e6 / left if left >= LEAST_MIRED else None
