"""Add an element to a look: as light adds, or by screen; where it is dense, it hides the look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from render.combine.colour import Pixels, brightest, brightness, codes_of, light_of
from render.photometry.srgb import srgb_decode, srgb_encode

Way = Literal["add", "screen"]

BAND = 256  # rows that are screened at a time: encoded values take twice the memory
MOST_JUDGED = 1_000_000  # pixels by which the ways are compared
DENSE = 0.25  # mean coverage over which adding looks transparent; common practice, no source


@dataclass(frozen=True, slots=True)
class Difference:
    """Screen against adding, where the element shows, as both would be written."""

    pixels: int  # in which the element is over the black limit
    median_stops: float | None  # of luminance; - : screen is darker
    least_stops: float | None
    most_stops: float | None


def behind(base: Pixels, hides: Pixels | None) -> Pixels:
    """What a look (h, w, 3) still shows where an element hides a share (h, w) of it."""
    return base if hides is None else base * (1 - hides)[..., None]


def joined(base: Pixels, light: Pixels, way: Way) -> Pixels:
    """A look (h, w, 3) with an element's light (h, w, 3) over it, both linear.

    way : "add": sum of light; "screen": 1 - (1 - a)(1 - b) of encoded values cut to 0 ... 1
          wherever the element has light
    """
    if way == "add":
        return base + light
    mixed = base.copy()
    for row in range(0, len(base), BAND):
        band = slice(row, row + BAND)
        lit = light[band] > 0
        mixed[band][lit] = screened(base[band][lit], light[band][lit])
    return mixed


def screened(base: Pixels, light: Pixels) -> Pixels:
    """Screen (...) of two linear pictures (...): of their encoded values; linear again."""
    a, b = (srgb_encode(np.clip(each, 0, 1).astype(np.float64)) for each in (base, light))
    return srgb_decode(1 - (1 - a) * (1 - b)).astype(np.float32)


def difference(base: Pixels, light: Pixels, black_code: float) -> Difference:
    """Screen against adding of a look and an element, where the element is over the limit.

    Both as they would be written, cut at white. Of very many pixels an even sample is judged.
    """
    seen = np.flatnonzero(brightest(light) > light_of(black_code))
    if not seen.size:
        return Difference(0, None, None, None)
    some = seen[:: -(-seen.size // MOST_JUDGED)]
    pair = [each.reshape(-1, 3)[some] for each in (base, light)]
    added, mixed = np.clip(pair[0] + pair[1], 0, 1), screened(*pair)
    one, other = (brightness(each) for each in (added, mixed))
    lit = (one > 0) & (other > 0)
    if not lit.any():
        return Difference(int(seen.size), None, None, None)
    stops = np.log2(other[lit] / one[lit])
    least, median, most = (float(v) for v in np.percentile(stops, [0, 50, 100]))
    return Difference(int(seen.size), median, least, most)


def hidden(light: Pixels, opaque_code: float) -> Pixels:
    """Share (h, w) that an element hides by its light (h, w, 3): all from a code on, linear."""
    share = brightness(light) / np.float32(light_of(opaque_code))
    return np.asarray(np.clip(share, 0, 1), np.float32)


def lift(before: Pixels, after: Pixels, dark_code: float) -> tuple[float, float] | None:
    """What became of a look's dark pixels: their median lift in codes and the share over 1 code.

    returns : None where the look has no luminance at or under `dark_code`
    """
    dark = brightness(before) <= light_of(dark_code)
    if not dark.any():
        return None
    codes = [codes_of(brightness(each[dark])) for each in (before, after)]
    up = codes[1] - codes[0]
    return float(np.median(up)), float((up > 1).mean())
