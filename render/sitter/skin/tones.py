"""Skin colour: from the one number a photographer gives to the colours of a whole face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import map_coordinates
from scipy.optimize import minimize_scalar

from render.sitter.arrays import Array
from render.sitter.skin.pigment import (
    MOST_MELANIN,
    USUAL_BLOOD,
    USUAL_OXYGENATION,
    body_reflectance,
    lab_of,
    pigment_for,
)

# IEC 61966-2-1 (sRGB): XYZ (D65) to linear RGB.
_RGB_FROM_XYZ = np.array(
    [
        [3.2404542, -1.5371385, -0.4985314],
        [-0.9692660, 1.8760108, 0.0415560],
        [0.0556434, -0.2040259, 1.0572252],
    ]
)
_WHITE_D65 = np.array([0.95047, 1.0, 1.08883])
LEAST_CHANNEL, MOST_CHANNEL = 0.004, 0.95  # linear sRGB that a map may hold


def rgb_from_lab(lab: Array) -> Array:
    """Linear sRGB (..., 3) of CIELAB (..., 3), D65. Source: CIE 15:2004."""
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], -1)
    cube, line = f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29)
    xyz = np.where(f > 6 / 29, cube, line) * _WHITE_D65.astype(lab.dtype)
    return np.asarray(xyz @ _RGB_FROM_XYZ.T.astype(lab.dtype))


def lightness(reflectance: float) -> float:
    """CIE L* of a luminous reflectance 0..1. Source: CIE 15:2004."""
    if reflectance > (6 / 29) ** 3:
        return float(116 * np.cbrt(reflectance) - 16)
    return reflectance * (29 / 3) ** 3


def skin_lab(reflectance: float, redness: float = 1.0) -> Array:
    """L*, a*, b* (3,) under the flash of plain skin with this luminous reflectance.

    redness : blood in the skin, 1 = usual
    The same L*, a*, b* are taken on a D65 screen: the picture is balanced to the flash.
    """
    blood = USUAL_BLOOD * redness
    melanin, scatter = pigment_for(reflectance, blood)
    return lab_of(body_reflectance(melanin, blood, scatter=scatter))


@dataclass(frozen=True, slots=True)
class Setting:
    """What makes plain skin match a sample: three numbers of a `SkinTone`."""

    reflectance: float
    redness: float
    undertone: tuple[float, float]  # rest in a*, b* that melanin and blood leave

    @property
    def residual(self) -> float:
        """Colour difference (CIE 1976) of melanin and blood alone."""
        return float(np.hypot(*self.undertone))


# Skin samples that photographers and lamp makers test with, found by `setting_for` from the mean
# measured spectra of the usual 24-patch chart (30 charts) and the skin samples of ANSI/IES TM-30.
SAMPLES = {
    "24-patch chart, dark skin": Setting(0.1023, 2.16, (0.18, -1.54)),
    "24-patch chart, light skin": Setting(0.3499, 2.46, (1.51, 2.16)),
    "TM-30 colour sample 15": Setting(0.3708, 2.05, (-0.19, -0.20)),
    "TM-30 colour sample 18": Setting(0.2054, 1.24, (0.03, 0.29)),
}
_REDNESS_RANGE = (0.15, 4.0)  # beyond, light skin would have to be powdered to keep its luminance


def setting_for(lab: Array) -> Setting:
    """The setting that matches a sample's L*, a*, b* (3,), D55 being white.

    Luminance is met by melanin, hue as nearly as possible by blood, the rest by the undertone.
    """
    level = float(lab[0])
    f = (level + 16) / 116
    reflectance = f**3 if f > 6 / 29 else level * (3 / 29) ** 3

    def rest(log_redness: float) -> Array:
        return np.asarray(lab[1:] - skin_lab(reflectance, float(np.exp(log_redness)))[1:])

    low, high = (float(np.log(r)) for r in _REDNESS_RANGE)
    best: float = minimize_scalar(
        lambda x: float(np.hypot(*rest(x))), bounds=(low, high), method="bounded"
    ).x
    a, b = rest(best)
    return Setting(reflectance, float(np.exp(best)), (float(a), float(b)))


# Axes of a palette: natural log of the factor on melanin and on blood.
_MELANIN_STEPS = np.linspace(-2.5, 4.0, 40)
_BLOOD_STEPS = np.linspace(-2.5, 2.5, 31)


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """Every colour that one sitter's skin can take as melanin and blood change over the face."""

    melanin: float  # volume share in plain skin
    blood: float
    colours: Array  # (melanin steps, blood steps, 3) linear sRGB
    bluish: Array  # (3,) log change of linear sRGB per unit of oxygenation lost

    def paint(self, more_melanin: Array, more_blood: Array) -> Array:
        """Linear sRGB (h, w, 3) where melanin and blood are exp(more) times plain skin's (h, w)."""
        place = np.empty((2, *more_melanin.shape), np.float32)
        for axis, (steps, more) in enumerate(
            ((_MELANIN_STEPS, more_melanin), (_BLOOD_STEPS, more_blood))
        ):
            place[axis] = (more - steps[0]) * (1 / (steps[1] - steps[0]))
        out = np.empty((*more_melanin.shape, 3), np.float32)
        for k in range(3):
            table = self.colours[..., k]
            map_coordinates(table, place, out[..., k], order=1, mode="nearest", prefilter=False)
        return out


def palette(reflectance: float, redness: float, undertone: tuple[float, float]) -> Palette:
    """Colours round plain skin of this tone."""
    blood = USUAL_BLOOD * max(redness, 0.05)
    melanin, scatter = pigment_for(reflectance, blood)
    # Beyond the blackest skin more melanin makes no difference.
    melanins = np.minimum(melanin * np.exp(_MELANIN_STEPS), MOST_MELANIN)[:, None]
    bloods = blood * np.exp(_BLOOD_STEPS)[None]
    lab = lab_of(body_reflectance(melanins, bloods, scatter=scatter))
    lab[..., 1:] += undertone
    colours = np.clip(rgb_from_lab(lab), LEAST_CHANNEL, MOST_CHANNEL).astype(np.float32)
    step = 0.1
    fresh, stale = (
        rgb_from_lab(lab_of(body_reflectance(melanin, 2 * blood, oxygenation=s, scatter=scatter)))
        for s in (USUAL_OXYGENATION, USUAL_OXYGENATION - step)
    )
    bluish = np.log(np.maximum(stale, LEAST_CHANNEL) / np.maximum(fresh, LEAST_CHANNEL)) / step
    return Palette(melanin, blood, colours, bluish.astype(np.float32))
