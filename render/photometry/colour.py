"""Colour of light: lamps by their colour temperature, correction gels, the camera's white balance.

A lamp is CIE daylight from 4000 K up (a flash tube, the sky) and a Planckian radiator below (a
filament, a warm LED): a common convention. No spectrum of a real flash tube is published with a
source that could be carried here, so that daylight of 5500 K stands for it.
"""

from __future__ import annotations

import numpy as np

from render.photometry.number import Floats
from render.photometry.observer import DAYLIGHT, OBSERVER, WAVELENGTH_NM
from render.photometry.srgb import LUMINANCE_SHARES

FLASH_K = 5500.0  # an ungelled studio flash; typical 5000 to 6000, common practice, no source
COOLEST_LAMP_K, BLUEST_LAMP_K = 1500.0, 25000.0  # CIE daylight is defined up to 25000 K
DAYLIGHT_FROM_K = 4000.0
C2_NM_K = 1.4388e7  # second radiation constant [nm·K], ITS-90: 1.438777e-2 m·K
D_SERIES_C2 = 1.4388 / 1.4380  # the nominal temperatures of D50, D55, D65 are of an older constant
REFERENCE_NM = 560.0  # spectra are 1 here
LEAST_MIRED = 25.0  # beyond 40 000 K the Planckian hardly changes: what is left is Wien's ratio
FAR_FROM_PLANCK = 0.05  # CIE 15: no correlated colour temperature beyond this distance in u, 2v/3

# IEC 61966-2-1: chromaticities of the primaries of sRGB and of its white, D65.
SRGB_PRIMARIES = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
SRGB_WHITE = np.array([0.3127, 0.3290])
# Bradford cone responses; Lam 1985, as in the ICC profile specification, annex E.
BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def mired(kelvin: float) -> float:
    """Reciprocal colour temperature [mired] of a colour temperature [K]: 1e6 / T."""
    return 1e6 / kelvin


def planck(kelvin: float) -> Floats:
    """Spectrum (85,) of a Planckian radiator [K], 1 at 560 nm. Source: Planck's law."""
    ratio = np.expm1(C2_NM_K / (REFERENCE_NM * kelvin)) / np.expm1(
        C2_NM_K / (WAVELENGTH_NM * kelvin)
    )
    spectrum: Floats = ratio * (REFERENCE_NM / WAVELENGTH_NM) ** 5
    return spectrum


def daylight_xy(kelvin: float) -> Floats:
    """Chromaticity (2,) that CIE daylight of 4000 ... 25000 [K] is made for.

    Source: ISO/CIE 11664-2, from memory; the nominal 5500 K of D55 are 5503 K here. The spectrum's
    own chromaticity, with its rounded weights, is up to 0.0001 away.
    """
    t = 1e3 / kelvin
    if kelvin <= 7000:
        x = ((-4.6070 * t + 2.9678) * t + 0.09911) * t + 0.244063
    else:
        x = ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.237040
    return np.array([x, (-3.0 * x + 2.870) * x - 0.275])


def daylight(kelvin: float) -> Floats:
    """Spectrum (85,) of CIE daylight, 4000 ... 25000 [K], 1 at 560 nm. Source: ISO/CIE 11664-2."""
    x, y = daylight_xy(kelvin)
    below = 0.0241 + 0.2562 * x - 0.7341 * y
    first = round((-1.3515 - 1.7703 * x + 5.9114 * y) / below, 3)  # the standard rounds both
    second = round((0.0300 - 31.4424 * x + 30.0717 * y) / below, 3)
    spectrum: Floats = DAYLIGHT @ np.array([1.0, first, second]) / 100.0
    return spectrum


def lamp(kelvin: float) -> Floats:
    """Spectrum (85,) of a lamp of this colour temperature [K], 1 at 560 nm.

    raises : ValueError outside 1500 ... 25000 K
    """
    if not COOLEST_LAMP_K <= kelvin <= BLUEST_LAMP_K:
        raise ValueError(f"a lamp has {COOLEST_LAMP_K:g} to {BLUEST_LAMP_K:g} K, got {kelvin:g}")
    nominal = kelvin * D_SERIES_C2
    return daylight(min(nominal, BLUEST_LAMP_K)) if kelvin >= DAYLIGHT_FROM_K else planck(kelvin)


def correction(kelvin: float, shift_mired: float) -> Floats:
    """Relative transmission (85,) of an ideal correction gel on light of this temperature [K].

    The ratio of two Planckians: it takes the one of 1e6/T mired to the one `shift_mired` [mired]
    further, + is warmer, 1 at 560 nm. Where that asks for bluer light than any Planckian has, the
    rest is Wien's ratio, exp(-c2·M/lambda).
    """
    shift = max(shift_mired, LEAST_MIRED - mired(kelvin))
    ratio = planck(1e6 / (mired(kelvin) + shift)) / planck(kelvin)
    rest = 1e-6 * (shift_mired - shift)
    wien = np.exp(-C2_NM_K * rest * (1 / WAVELENGTH_NM - 1 / REFERENCE_NM))
    shape: Floats = ratio * wien
    return shape


def tristimulus(spectrum: Floats) -> Floats:
    """X, Y, Z (3,) of a spectrum (85,), relative. Source: CIE 1931 observer, sum each 5 nm."""
    xyz: Floats = spectrum @ OBSERVER
    return xyz


def chromaticity(xyz: Floats) -> Floats:
    """x, y (2,) of X, Y, Z (3,)."""
    xy: Floats = xyz[:2] / xyz.sum()
    return xy


def luminous_transmission(spectrum: Floats, transmission: Floats) -> float:
    """Share of the luminous flux of a lamp (85,) that a filter (85,) lets through [-]."""
    return float((spectrum * transmission) @ OBSERVER[:, 1] / (spectrum @ OBSERVER[:, 1]))


def correlated_temperature(xyz: Floats) -> float | None:
    """Colour temperature [K] of the Planckian nearest in the CIE 1960 u, v diagram.

    returns : None beyond 0.05 from the Planckians, or bluer than 40 000 K
    Source: CIE 15, definition of the correlated colour temperature; golden-section search.
    """
    wanted = _uv(xyz)

    def distance(m: float) -> float:
        return float(np.linalg.norm(_uv(tristimulus(planck(1e6 / m))) - wanted))

    low, high = LEAST_MIRED, mired(1000.0)
    golden = (5**0.5 - 1) / 2
    while high - low > 1e-3:
        a, b = high - golden * (high - low), low + golden * (high - low)
        low, high = (low, b) if distance(a) < distance(b) else (a, high)
    found = (low + high) / 2
    if distance(found) > FAR_FROM_PLANCK or found < LEAST_MIRED + 0.01:
        return None
    return 1e6 / found


def _uv(xyz: Floats) -> Floats:
    x, y, z = xyz
    uv: Floats = np.array([4 * x, 6 * y]) / (x + 15 * y + 3 * z)
    return uv


def _srgb_from_xyz() -> Floats:
    """Matrix (3, 3) that takes X, Y, Z of D65 light to linear sRGB; D65 of Y 1 is (1, 1, 1)."""
    columns = np.stack([_xyz(xy) for xy in SRGB_PRIMARIES], -1)
    scaled = columns * np.linalg.solve(columns, _xyz(SRGB_WHITE))
    inverse: Floats = np.linalg.inv(scaled)
    return inverse


def _xyz(xy: Floats) -> Floats:
    """X, Y, Z (3,) of a chromaticity (2,) at Y = 1."""
    xyz: Floats = np.array([xy[0], xy[1], 1 - xy.sum()]) / xy[1]
    return xyz


SRGB_FROM_XYZ = _srgb_from_xyz()


def srgb_from_light(white_xyz: Floats) -> Floats:
    """Matrix (3, 3) from X, Y, Z to linear sRGB as a camera shows them that is balanced to a white.

    white_xyz : (3,) float  of the light that shall look neutral
    Source: von Kries adaptation in Bradford cone responses to D65, then IEC 61966-2-1.
    """
    gain = (BRADFORD @ _xyz(SRGB_WHITE)) / (BRADFORD @ (white_xyz / white_xyz[1]))
    matrix: Floats = SRGB_FROM_XYZ @ np.linalg.solve(BRADFORD, gain[:, None] * BRADFORD)
    return matrix


def balanced_srgb(xyz: Floats, white_xyz: Floats) -> Floats:
    """Linear sRGB (3,) of light under a camera's white balance, scaled to luminance 1.

    xyz, white_xyz : (3,) float  of the light and of the light that shall look neutral
    returns        : (3,) float  the white is (1, 1, 1); a channel is negative where the light is
                     more saturated than sRGB can show
    """
    rgb = srgb_from_light(white_xyz) @ xyz
    scaled: Floats = rgb / (rgb @ LUMINANCE_SHARES)
    return scaled
