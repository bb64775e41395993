"""The painted eye: pupil, spoked iris, dark ring, and a white with fine veins."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d, zoom

from render.sitter.arrays import Array, Rng, bell, smoothstep

PUPIL_SHARE = 0.31  # pupil radius over iris radius in studio light; set by eye
# The white turns darker, yellower and redder with age (Russell et al. 2014, Psychol. Aging 29(3));
# average faces at 20 to 70 years were photographed with L* about 57 to 38, under the lids' shade
# (J. Cosmet. Sci. 73(6) 2022, p. 369). Lids and lashes take about half of the light (from memory),
# so the paint gives back twice that.
# Linear sRGB at 20 and at 75 years, and its share of that at the lids' corners, by eye.
_YOUNG, _OLD = np.array((0.475, 0.435, 0.400)), np.array((0.360, 0.310, 0.255))
_AGES = 20.0, 75.0
_CORNER = np.array((0.80, 0.65, 0.58))
# Dark skin goes with pigment in the eye's outer skin, most of it round the iris and between the
# lids: seen in over 90 % of black people (from memory) and 10 % of Danes (Norn 1985, Acta
# Ophthalmol. 63, p. 454). What is left of the white, as factors: all over, and where it gathers.
_DUSK, _GATHERED = np.array((0.90, 0.84, 0.74)), np.array((0.72, 0.58, 0.42))
_DARK, _PALE = 0.08, 0.30  # luminous reflectance of skin between which that sets in; set by eye
_VEIN = (0.50, 0.22, 0.18)  # what a vein leaves of the white's colour, as factors; set by eye
_VEINS = 34  # large enough to be told apart on an open eye; set by eye
_IRIS_TEXELS = (768, 160)  # iris picture: angle, radius
_SIZE = 768  # texels of the eye picture either way
# Outer, middle and inner colour of the iris, linear sRGB reflectance; set by eye.
_IRIS = {
    "dark brown": ((0.016, 0.008, 0.005), (0.028, 0.012, 0.006), (0.036, 0.016, 0.007)),
    "brown": ((0.040, 0.019, 0.009), (0.075, 0.036, 0.015), (0.105, 0.052, 0.020)),
    "hazel": ((0.056, 0.050, 0.034), (0.085, 0.068, 0.040), (0.098, 0.060, 0.028)),
    "green": ((0.062, 0.085, 0.056), (0.125, 0.145, 0.085), (0.130, 0.105, 0.050)),
    "blue": ((0.058, 0.076, 0.095), (0.120, 0.145, 0.165), (0.150, 0.160, 0.150)),
    "grey": ((0.070, 0.076, 0.080), (0.145, 0.152, 0.155), (0.165, 0.160, 0.145)),
}


@dataclass(frozen=True, slots=True)
class EyeTone:
    """What the colours of an eye follow."""

    iris: str
    age_years: float
    skin_reflectance: float  # luminous


@lru_cache(maxsize=4)
def eye_paint(limbus: float, tone: EyeTone, seed: int) -> Array:
    """Whole eye (size, size, 3), row 0 is v = 1.

    v runs from the pupil (0) over the white to the back (1), u once round from the sitter's left.
    limbus : iris radius over ball radius
    """
    rng = np.random.default_rng(seed)
    v = np.linspace(0, 1, _SIZE)[:, None]
    across = np.where(v < 0.5, 2 * v, 2 * (1 - v))  # distance from the axis over ball radius
    ring = across / limbus
    paint = _iris_paint(tone.iris, rng)
    u = (np.arange(_SIZE) / _SIZE * paint.shape[1]).astype(int)[None]
    radius = np.clip((ring - PUPIL_SHARE) / (1 - PUPIL_SHARE), 0, 1)
    colour = paint[(radius * (paint.shape[0] - 1)).astype(int), u]
    open_iris = smoothstep(PUPIL_SHARE - 0.02, PUPIL_SHARE + 0.02, ring)[..., None]
    colour = colour * open_iris + 0.003 * (1 - open_iris)
    white = np.where(v < 0.5, smoothstep(0.95, 1.14, ring), 1.0)[..., None]
    sclera = _sclera(across, limbus, tone, rng)
    out = np.clip(colour * (1 - white) + sclera * white, 0.002, 0.9)
    picture = np.asarray(out[::-1].astype(np.float32))
    picture.flags.writeable = False  # a sitter's next body gets the same one
    return picture


def _sclera(across: Array, limbus: float, tone: EyeTone, rng: Rng) -> Array:
    """White of the eye (size, size, 3): deeper in colour to both sides, with veins."""
    turn = 2 * np.pi * np.arange(_SIZE)[None] / _SIZE
    sideways = np.abs(np.cos(turn)) ** 1.5
    corner = smoothstep(limbus * 1.25, 0.95, across) * (0.25 + 0.75 * sideways)
    cloud = gaussian_filter(rng.standard_normal((_SIZE // 8, _SIZE // 8)), (3, 4), mode="wrap")
    cloud = zoom(cloud / cloud.std(), 8, order=1)
    white = white_of(tone) * (1 - corner[..., None] * (1 - _CORNER))
    white = white * (1 + 0.02 * cloud)[..., None]
    ring = smoothstep(limbus * 1.7, limbus * 1.02, across) * (0.35 + 0.65 * sideways)
    gathered = np.clip(ring * (0.8 + 0.35 * cloud), 0, 1) * pigmented(tone)
    white = white * (1 - gathered[..., None] * (1 - _GATHERED))
    red = _veins(limbus, rng)[..., None]
    return np.asarray(white * (1 - red * (1 - np.array(_VEIN))))


def white_of(tone: EyeTone) -> Array:
    """Linear sRGB reflectance (3,) of the plain white beside the iris."""
    aged = np.clip((tone.age_years - _AGES[0]) / (_AGES[1] - _AGES[0]), 0, 1)
    dusk = 1 - pigmented(tone) * (1 - _DUSK)
    return np.asarray((_YOUNG + aged * (_OLD - _YOUNG)) * dusk)


def pigmented(tone: EyeTone) -> float:
    """How much the eye's outer skin shares the skin's pigment, 0..1."""
    return float(smoothstep(_PALE, _DARK, tone.skin_reflectance))


def _veins(limbus: float, rng: Rng) -> Array:
    """Strength (size, size) of fine winding veins that fade towards the iris."""
    ink = np.zeros((_SIZE, _SIZE))
    for _ in range(_VEINS):
        # Most run in from the corners, level with the lids' opening.
        side = np.pi * float(rng.integers(0, 2))
        angle = side + 0.75 * float(rng.standard_normal())
        start, end = 1.0, limbus * float(rng.uniform(1.12, 1.9))
        length = int((start - end) * _SIZE / 2)
        drift = np.cumsum(gaussian_filter1d(rng.standard_normal(length), 5)) * 0.016
        wave = 0.05 * np.sin(np.linspace(0, rng.uniform(8, 26), length) + rng.uniform(0, 6))
        turn = angle + (drift + wave) / np.linspace(1.6, 1.0, length)
        rows = ((np.linspace(start, end, length) / 2) * _SIZE).astype(int) % _SIZE
        columns = (turn / (2 * np.pi) * _SIZE).astype(int) % _SIZE
        fading = np.linspace(1, 0.0, length) ** 0.7
        ink[rows, columns] += float(rng.uniform(0.35, 1.0)) * fading
    fine = gaussian_filter(ink, (0.7, 0.9), mode="wrap")
    halo = gaussian_filter(ink, (5, 7), mode="wrap")
    return np.asarray(np.clip(0.85 * fine + 0.9 * halo, 0, 0.8))


def _iris_paint(colour: str, rng: Rng) -> Array:
    """Iris (radius, angle, 3): rows from the pupil's edge to the limbus."""
    width, height = _IRIS_TEXELS
    outer, middle, inner = (np.array(c) for c in _IRIS[colour])
    r = np.linspace(0, 1, height)[:, None, None]
    core = inner + (middle - inner) * smoothstep(0.12, 0.38, r)
    rim = middle + (outer - middle) * smoothstep(0.45, 0.98, r)
    paint = np.broadcast_to(np.where(r < 0.38, core, rim), (height, width, 3)).copy()
    streaks = np.ones((height, width))
    for share, tall, wide in ((0.20, 0.30, 1.3), (0.16, 0.14, 3.5), (0.13, 0.05, 9.0)):
        grain = rng.standard_normal((height, width))
        grain = gaussian_filter(grain, (height * tall, wide), mode="wrap")
        streaks += share * grain / grain.std()
    paint *= np.clip(streaks, 0.35, 1.9)[..., None]
    wobble = 0.3 * gaussian_filter1d(rng.standard_normal(width), 10, mode="wrap")
    paint *= 1 + 0.28 * bell(r - 0.12 * wobble[None, :, None], 0.30, 0.05)
    # The dark ring where iris and white meet.
    paint *= 1 - 0.72 * smoothstep(0.80, 0.97, r)
    paint *= 1 - 0.45 * smoothstep(0.06, 0.0, r)
    return np.asarray(np.clip(paint, 0.002, 0.6))
