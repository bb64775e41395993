"""Skin colour: CIELAB arithmetic and the line on which skin colours lie from dark to light."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array

# Lightness L* -> a*, b* through typical skin colours; set by eye, no source.
_LOCUS = np.array(
    [
        [20, 6.5, 5.0],
        [28, 9.0, 8.5],
        [34, 10.5, 11.5],
        [40, 12.0, 14.5],
        [47, 13.0, 17.5],
        [54, 13.0, 18.8],
        [61, 11.8, 18.3],
        [67, 10.3, 17.0],
        [73, 8.4, 15.2],
        [79, 6.6, 12.8],
        [86, 4.5, 9.0],
    ]
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


def skin_lab(reflectance: float) -> Array:
    """L*, a*, b* (3,) of plain skin with this luminous reflectance."""
    level = lightness(reflectance)
    a, b = (np.interp(level, _LOCUS[:, 0], _LOCUS[:, k]) for k in (1, 2))
    return np.array([level, float(a), float(b)])
