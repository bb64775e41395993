"""From light frames to a picture: exposure as on the camera, no hidden tone curve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.photometry.exposure import C_FLAT, linear_value
from render.photometry.srgb import luminance, srgb_encode
from render.trace import LightFrame

Pixels = NDArray[np.float32]

DARKEST_TONE = 0.18 / 2**6  # six stops under the metered card, near the end of a print's range
WINDOW_PX = 5  # side of the square over which noise is averaged; about the spread of 100 chunks


@dataclass(frozen=True, slots=True)
class Exposure:
    """What is set on the camera."""

    iso_speed: float
    f_number: float
    shutter_s: float
    focal_length_mm: float
    c_flat: float = C_FLAT  # [lx·s] of the meter that the camera is set by


@dataclass(frozen=True, slots=True)
class Picture:
    """A linear picture in which an 18 % card at the metered f-number is 0.18."""

    linear: Pixels  # (h, w, 3) linear sRGB, unclipped
    standard_error: Pixels  # (h, w) of the luminance
    exposure: Exposure


def mix(
    frames: Mapping[str, LightFrame],
    layout: Layout,
    exposure: Exposure,
    only: tuple[str, ...] | None = None,
) -> Picture:
    """Add the light frames at their set power and in their colour, and expose the sum.

    frames  : name -> LightFrame, per lm·s of white light
    only    : lights to add; None for all that have a frame
    returns : Picture; gains add linearly, variances with the square of the gain. A channel is
              negative where a light's colour lies outside sRGB; `codes` clips it.
    """
    gains = {f.name: f.luminous_energy_lm_s * np.array(f.colour) for f in layout.fronts}
    names = [name for name in frames if only is None or name in only]
    shape = next(iter(frames.values())).mean.shape
    mean, variance = np.zeros(shape, np.float32), np.zeros(shape[:2], np.float32)
    for name in names:
        mean += np.float32(gains[name]) * frames[name].mean
        variance += _variance(frames[name], gains[name])
    gain = float(linear_value(1.0, exposure.iso_speed, exposure.f_number, exposure.c_flat))
    error = np.sqrt(variance)
    return Picture(np.float32(gain) * mean, np.float32(gain) * error, exposure)


def _variance(frame: LightFrame, gain: NDArray[np.float64]) -> Pixels:
    """Variance (h, w) of the luminance of a frame in a light's colour.

    A frame's channels come from the same paths, so that they are off together: the luminance in
    another colour is as sure, in proportion, as that in white.
    """
    white = luminance(frame.mean.astype(np.float64))
    own = luminance(frame.mean.astype(np.float64) * gain)
    share = np.divide(own, white, out=np.full_like(own, float(luminance(gain))), where=white > 0)
    return (share * share).astype(np.float32) * frame.variance


def codes(linear: Pixels) -> NDArray[np.float64]:
    """sRGB values 0..1 of a linear picture, clipped; IEC 61966-2-1."""
    return srgb_encode(np.clip(linear, 0.0, 1.0).astype(np.float64))


def error_stops(picture: Picture) -> float:
    """Median standard error of the pixels that carry tone, in stops; nan in a black picture.

    Variances are averaged over a small square first: the few chunks of a pixel tell little of its
    noise, and most pixels have not met the specks that fell beside them.
    """
    from scipy.ndimage import uniform_filter  # a large library; checks do without

    light = luminance(picture.linear.astype(np.float64))
    toned = light > DARKEST_TONE
    if not toned.any():
        return float("nan")
    squares = np.square(picture.standard_error.astype(np.float64))
    variance = np.maximum(uniform_filter(squares, WINDOW_PX)[toned], 0)
    share = np.sqrt(variance) / uniform_filter(light, WINDOW_PX)[toned]
    return float(np.median(share) / np.log(2))
