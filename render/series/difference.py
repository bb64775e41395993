"""Stops by which a picture differs from the first one, as numbers and as colours."""

from __future__ import annotations

import numpy as np
from matplotlib import colormaps
from matplotlib.colors import Normalize
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from render.photometry.srgb import luminance
from render.picture.develop import Picture

Floats = NDArray[np.float64]

# Blue for less, red for more, dark where nothing changes: even in lightness to both sides, so that
# equal stops look equally far apart, and told apart by all who see red and green alike. Of the
# plotting library's perceptually uniform diverging maps (F. Crameri's).
COLOURS = "berlin"
UNTOLD = (0.45, 0.45, 0.45)  # grey of what is too dark or too noisy to tell
DARKEST = 0.18 / 2**8  # eight stops under the metered card; less is noise and no print shows it
NOISIEST_STOPS = 0.5  # standard error of a difference that still tells something; a choice
SOFT_SHARE = 1 / 160  # of the longer side: the blur that noise is averaged over; by eye
LEAST_RANGE, STEP = 0.5, 0.5  # half the scale's width [stops], and what it is rounded up to
SHARE_INSIDE = 0.98  # of the pixels that the scale holds


def stops_apart(picture: Picture, first: Picture) -> Floats:
    """Stops of a picture over the first, pixel by pixel, in linear luminance, slightly blurred.

    returns : (h, w) [stops]; nan where both are too dark or too noisy to tell; all of it where
              their shapes differ
    """
    if picture.linear.shape != first.linear.shape:
        return np.full(picture.linear.shape[:2], np.nan)
    (here, own), (there, its) = _blurred(picture), _blurred(first)
    bright = np.maximum(here, there) > DARKEST
    floor = DARKEST / 2
    here, there = np.maximum(here, floor), np.maximum(there, floor)
    error = np.hypot(own / here, its / there) / np.log(2)
    return np.where(bright & (error < NOISIEST_STOPS), np.log2(here / there), np.nan)


def _blurred(picture: Picture) -> tuple[Floats, Floats]:
    """Luminance (h, w) and its standard error, averaged with a Gaussian weight.

    A weight g of width s over independent pixels: the variance is weighed with g squared, itself a
    Gaussian of width s/sqrt(2) whose sum is 1/(4 pi s squared).
    """
    wide = SOFT_SHARE * max(picture.linear.shape)
    light = gaussian_filter(luminance(picture.linear.astype(np.float64)), wide)
    variance = gaussian_filter(picture.standard_error.astype(np.float64) ** 2, wide / np.sqrt(2))
    return light, np.sqrt(variance * min(1.0, 1 / (4 * np.pi * wide * wide)))


def scale_stops(maps: list[Floats]) -> float:
    """Half the width of one scale for several maps [stops]."""
    sizes = np.concatenate([np.abs(each[np.isfinite(each)]) for each in maps] or [np.zeros(0)])
    if not len(sizes):
        return LEAST_RANGE
    return max(LEAST_RANGE, float(np.ceil(np.quantile(sizes, SHARE_INSIDE) / STEP)) * STEP)


def coloured(apart: Floats, scale: float) -> NDArray[np.uint8]:
    """The map as 8-bit sRGB (h, w, 3)."""
    shares = Normalize(-scale, scale, clip=True)(np.nan_to_num(apart))
    rgb = colormaps[COLOURS](np.asarray(shares))[..., :3]
    rgb[~np.isfinite(apart)] = UNTOLD
    pixels: NDArray[np.uint8] = np.round(255 * rgb).astype(np.uint8)
    return pixels
