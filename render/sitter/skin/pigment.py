"""How melanin and blood colour the skin: from two amounts of pigment to a reflectance spectrum.

Light crosses a thin clear layer that scatters a little, a layer of pigmented cells, and is sent
back by the scattering, blood-filled skin below; part of it is thrown back in again at the surface.
Gloss, the light that never enters, is left out.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from render.sitter.arrays import Array
from render.sitter.skin.spectra import DEOXYGENATED, OXYGENATED, WAVELENGTH_NM, XYZ_WEIGHTS

# Published values.
# Absorption of melanosomes and of skin without blood and pigment [1/cm], wavelength in nm:
# S. L. Jacques, "Skin optics", OMLC News, January 1998.
_MELANOSOME, _MELANOSOME_SLOPE = 6.6e11, -3.33
_PLAIN, _PLAIN_FALL, _PLAIN_START_NM, _PLAIN_WIDTH_NM = 0.244, 85.3, 154.0, 66.2
# Whole blood: 150 g/l of haemoglobin, 64 500 g/mol (Prahl, as the table).
_BLOOD_MOLAR, _LN_10 = 150 / 64_500, 2.303
_SCATTER_SLOPE = -1.42  # reduced scattering of skin: S. L. Jacques, Phys. Med. Biol. 58 (2013) R37
# Kubelka-Munk from diffusion, S = 3/4 mu_s', K = 2 mu_a: van Gemert and Star, Lasers Life Sci. 1
# (1987) 287; from memory.
_KM_SCATTER, _KM_ABSORB = 0.75, 2.0
# Surface at refractive index 1.4: share let in at 45 degrees, share of diffuse light thrown back
# inside (Fresnel formulas).
_LET_IN, _THROWN_BACK = 0.97, 0.493
EPIDERMIS_CM = 0.010  # 0.1 mm, usual figure for faces; from memory
CAPILLARY_RADIUS_CM = 4e-4  # usual figure 3 to 5 um; from memory

# Fitted at once to six published skin spectra (see tests/unit/sitter/test_skin_colour.py).
# Jacques 2013 lists 30 to 70 1/cm for whole skin at 500 nm; two fluxes need more.
SCATTER_PER_CM = 110.0
CLEAR_LAYER = 0.04  # Kubelka-Munk S times thickness of the unpigmented outer cells at 500 nm
CLUMPING = 1.6  # variance of the melanin met on different ways through, mean = 1
USUAL_BLOOD = 0.016  # volume share of blood for redness 1
USUAL_OXYGENATION = 0.75  # arterial and venous blood mixed; from memory

LEAST_MELANIN, MOST_MELANIN = 0.004, 3.0  # volume share of melanosomes; above 0.5 effective only
_BRIGHTEST = 64.0  # most that the scattering is raised for skin lighter than nature's


def _blood_absorption(nm: Array, oxygenation: Any) -> Array:
    """Absorption (..., k) [1/cm] of blood, as it is met in vessels rather than spread evenly.

    Vessel correction: R. L. P. van Veen et al., Opt. Lett. 27 (2002) 246; from memory.
    """
    oxygenated = np.interp(nm, WAVELENGTH_NM, OXYGENATED)
    deoxygenated = np.interp(nm, WAVELENGTH_NM, DEOXYGENATED)
    extinction = oxygenation * oxygenated + (1 - oxygenation) * deoxygenated
    absorption = _LN_10 * _BLOOD_MOLAR * extinction
    across = 2 * absorption * CAPILLARY_RADIUS_CM
    return np.asarray(absorption * -np.expm1(-across) / across)


def body_reflectance(
    melanin: Any,
    blood: Any,
    *,
    oxygenation: Any = USUAL_OXYGENATION,
    scatter: Any = 1.0,
    nm: Array = WAVELENGTH_NM,
) -> Array:
    """Reflectance (..., k) of skin at the wavelengths nm (k,), gloss left out.

    melanin     : (...) volume share of melanosomes in the epidermis [-]
    blood       : (...) volume share of blood in the dermis [-]
    oxygenation : (...) share of the haemoglobin that carries oxygen [-]
    scatter     : (...) factor on the dermis's scattering, 1 in real skin
    """
    melanin, blood, oxygenation, scatter = (
        np.asarray(x, float)[..., None] for x in (melanin, blood, oxygenation, scatter)
    )
    plain = _PLAIN + _PLAIN_FALL * np.exp(-(nm - _PLAIN_START_NM) / _PLAIN_WIDTH_NM)
    slope = (nm / 500.0) ** _SCATTER_SLOPE
    # Dermis: two fluxes in a layer without an end.
    absorbed = plain + blood * _blood_absorption(nm, oxygenation)
    ratio = _KM_ABSORB * absorbed / (_KM_SCATTER * scatter * SCATTER_PER_CM * slope)
    dermis = 1 + ratio - np.sqrt(ratio * (ratio + 2))
    # Pigmented cells: diffuse light takes twice the thickness. Melanin is clumped, so ways through
    # differ; the mean over a gamma distribution of them falls more slowly than an exponential.
    depth = 2 * EPIDERMIS_CM * (melanin * _MELANOSOME * nm**_MELANOSOME_SLOPE + plain)
    passed = (1 + CLUMPING * depth) ** (-1 / CLUMPING)
    below = passed**2 * dermis
    # Clear cells on top send a little back before it meets any pigment.
    sent_back = CLEAR_LAYER * slope / (1 + CLEAR_LAYER * slope)
    inside = sent_back + (1 - sent_back) ** 2 * below / (1 - sent_back * below)
    # The surface from within: L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727; from memory.
    return np.asarray(_LET_IN * (1 - _THROWN_BACK) * inside / (1 - _THROWN_BACK * inside))


def luminous(spectrum: Array) -> Array:
    """Luminous reflectance (...) of spectra (..., 31) under the flash."""
    return np.asarray(spectrum @ XYZ_WEIGHTS[:, 1])


def lab_of(spectrum: Array) -> Array:
    """CIELAB (..., 3) of spectra (..., 31) under the flash, white D55. Source: CIE 15:2004."""
    ratio = (spectrum @ XYZ_WEIGHTS) / XYZ_WEIGHTS.sum(0)
    line = ratio * (29 / 6) ** 2 / 3 + 4 / 29
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), line)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], -1)


def pigment_for(reflectance: float, blood: float) -> tuple[float, float]:
    """Melanin and scattering factor at which skin with this blood has this luminous reflectance.

    Melanin does it alone until hardly any is left; lighter skin than that (powder, foundation)
    is made by more scattering. Both are found by halving, to 1e-7.
    """
    if float(luminous(body_reflectance(LEAST_MELANIN, blood))) >= reflectance:
        low, high = np.log(MOST_MELANIN), np.log(LEAST_MELANIN)  # dark to light
        melanin = _halved(lambda x: body_reflectance(np.exp(x), blood), reflectance, low, high)
        return float(np.exp(melanin)), 1.0
    scatter = _halved(
        lambda x: body_reflectance(LEAST_MELANIN, blood, scatter=np.exp(x)),
        reflectance,
        0.0,
        np.log(_BRIGHTEST),
    )
    return LEAST_MELANIN, float(np.exp(scatter))


def _halved(spectrum: Any, reflectance: float, dark: float, light: float) -> float:
    while abs(light - dark) > 1e-7:
        middle = 0.5 * (dark + light)
        if float(luminous(spectrum(middle))) < reflectance:
            dark = middle
        else:
            light = middle
    return 0.5 * (dark + light)
