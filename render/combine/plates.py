"""Take the light of the empty black set out of an element's picture, down to its noise.

What is left below twice the noise is black, from four times on it is kept whole, in between it
comes in smoothly: a hard limit leaves ragged edges, a lowered black point eats faint grains.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from render.combine.colour import Pixels, brightest, brightness, codes_of
from render.combine.photo import Photo
from render.combine.raw import refused

NOTHING_UP_TO, WHOLE_FROM = 2.0, 4.0  # in standard deviations: 2 % and 0.003 % of noise is above
LEVELS = 32  # brightness levels at which the noise is measured
APART_PX = 16  # two blocks of a JPEG, which smooths noise within each
MOST_TRIPLES = 4_000_000  # places that are looked at: more tell nothing new
MEDIAN_OF_NORMAL = 0.6745  # median of the absolute value of a standard normal
BELOW = 4.0  # standard deviations under the plate that noise alone does not reach


@dataclass(frozen=True, slots=True)
class Plate:
    """The empty black set: its light and how far one picture of it scatters."""

    light: Pixels  # (h, w, 3), mean of all plates
    level: NDArray[np.float64]  # (k,) luminances, rising, at which the noise is known
    noise: NDArray[np.float64]  # (k,) standard deviation of luminance of one picture
    count: int

    def scatter(self, luminance: Pixels) -> Pixels:
        """Standard deviation (h, w) of picture less mean plate, at plate luminances (h, w)."""
        one = np.interp(luminance, self.level, self.noise)
        return np.asarray(one * np.sqrt(1 + 1 / self.count), np.float32)


@dataclass(frozen=True, slots=True)
class Subtracted:
    """What the subtraction did to an element's picture."""

    plates: int
    noise_code: float  # one standard deviation over black, as a code
    veil_code: float  # the light that was taken out, median of the picture, as a code
    black_share: float  # pixels that are black now [-]
    lost_share: float  # of the light over the plate, what lay within the noise [-]
    below_share: float  # pixels darker than the plate by more than noise [-]


def measured_plate(photos: Iterable[Photo]) -> Plate:
    """Mean light of the plates, read one after the other, and their noise by brightness.

    Two plates or more: the scatter between them, pixel by pixel, pooled over pixels of like
    brightness. One plate: the median bend of three pixels in a row, 16 apart, which sees noise but
    no slow change. Never less than the steps of the files allow, step / sqrt(12).
    Raises PhotoError where the plates differ in size, ValueError without any.
    """
    first, steps, count = None, [], 0
    for count, photo in enumerate(photos, 1):
        if first is None:
            first, total = photo, np.zeros_like(photo.linear)
            mean, square = (np.zeros(total.shape[:2], np.float32) for _ in range(2))
        check_same_size(photo, first)
        steps += [] if photo.step is None else [photo.step]
        total += photo.linear
        luminance = brightness(photo.linear)
        off = luminance - mean
        mean += off / np.float32(count)
        square += off * (luminance - mean)
    if first is None:
        raise ValueError("a plate is measured from one picture or more")
    light = total / np.float32(count)
    level = brightness(light)
    edges = np.unique(np.quantile(level, np.linspace(0, 1, LEVELS + 1)))
    if count > 1:
        known, noise = _between(level, square / np.float32(count - 1), edges)
    else:
        known, noise = _beside(level, edges)
    return Plate(light, known, np.maximum(noise, _least(steps, known)), count)


def check_same_size(photo: Photo, other: Photo) -> None:
    """Raise PhotoError unless two pictures have the same size."""
    if photo.size != other.size:
        found = f"{photo.size[0]} x {photo.size[1]} pixels"
        wanted = f"{other.size[0]} x {other.size[1]} as {other.file.name} has"
        raise refused(photo.file, found, wanted)


def subtracted(photo: Photo, plate: Plate) -> tuple[Pixels, Subtracted]:
    """Light (h, w, 3) of a picture over its plate, black where it is noise; and what that did."""
    over = photo.linear - plate.light
    veil = brightness(plate.light)
    scatter = plate.scatter(veil)
    found = brightness(over)
    weight = _kept(found / scatter)
    left = np.maximum(over * weight[..., None], np.float32(0))
    gained = np.maximum(found, 0)
    whole = float(gained.sum())
    typical = np.array([np.median(scatter), np.median(veil)], np.float32)
    noise_code, veil_code = codes_of(typical).tolist()
    return left, Subtracted(
        plates=plate.count,
        noise_code=noise_code,
        veil_code=veil_code,
        black_share=float((brightest(left) <= 0).mean()),
        lost_share=float((gained * (1 - weight)).sum()) / whole if whole > 0 else 0.0,
        below_share=float((found < -BELOW * scatter).mean()),
    )


def _kept(sigmas: Pixels) -> Pixels:
    """Share (h, w) that is kept of a difference in standard deviations (h, w)."""
    t = np.clip((sigmas - NOTHING_UP_TO) / (WHOLE_FROM - NOTHING_UP_TO), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)


def _between(
    level: Pixels, variance: Pixels, edges: NDArray[Any]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean level and noise of every brightness, from the variance between plates (h, w)."""
    where = np.clip(np.searchsorted(edges, level.ravel(), "right") - 1, 0, max(0, len(edges) - 2))
    count = np.maximum(np.bincount(where), 1)
    known = np.bincount(where, level.ravel()) / count
    noise = np.sqrt(np.bincount(where, variance.ravel()) / count)
    used = np.bincount(where) > 0
    return known[used], noise[used]


def _beside(level: Pixels, edges: NDArray[Any]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean level and noise of every brightness, from neighbours in one plate (h, w)."""
    level = level[:: max(1, level.size // MOST_TRIPLES)]
    step = min(APART_PX, (level.shape[1] - 1) // 2)
    if step < 1:
        return np.array([float(level.mean())]), np.zeros(1)
    left, own, right = level[:, : -2 * step], level[:, step:-step], level[:, 2 * step :]
    # Brightness by a mean of many pixels: by one pixel, bins would pick out its noise.
    middle = uniform_filter(level, 2 * step + 1, mode="nearest")[:, step:-step].ravel()
    bent = np.abs(left - 2 * own + right).ravel()
    where = np.clip(np.searchsorted(edges, middle, "right") - 1, 0, max(0, len(edges) - 2))
    bins = [where == k for k in np.unique(where)]
    known = np.array([middle[each].mean() for each in bins], np.float64)
    noise = [np.median(bent[each]) / MEDIAN_OF_NORMAL / np.sqrt(6) for each in bins]
    return known, np.array(noise, np.float64)


def _least(steps: Sequence[Pixels], level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard deviation that the steps (256,) of the coarsest file bring at each level."""
    codes = codes_of(level.astype(np.float32))
    least = np.full(len(level), np.finfo(np.float32).tiny)
    for each in steps:
        least = np.maximum(least, np.interp(codes, np.arange(256), each))
    return np.asarray(least / np.sqrt(12), np.float64)
