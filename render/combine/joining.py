"""Add an element to a look: as light adds, or by screen; where it is dense, it hides the look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from render.combine.colour import Pixels, brightness, codes_of, light_of
from render.photometry.srgb import srgb_decode, srgb_encode

Way = Literal["add", "screen"]

DENSE = 0.25  # mean coverage over which adding looks transparent; common practice, no source


@dataclass(frozen=True, slots=True)
class Difference:
    """Screen against adding, where the element shows, as both would be written."""

    pixels: int  # in which the element is over the black limit
    median_stops: float | None  # of luminance; - : screen is darker
    least_stops: float | None
    most_stops: float | None


def joined(base: Pixels, light: Pixels, way: Way, hides: Pixels | None = None) -> Pixels:
    """A look (h, w, 3) with an element's light (h, w, 3) over it, both linear.

    way   : "add": sum of light; "screen": 1 - (1 - a)(1 - b) of encoded values cut to 0 ... 1
            wherever the element has light
    hides : (h, w) share of the look that the element hides; None for nothing
    """
    behind = base if hides is None else base * (1 - hides)[..., None]
    return behind + light if way == "add" else screened(behind, light)


def screened(base: Pixels, light: Pixels) -> Pixels:
    """Screen (h, w, 3) of two linear pictures: of their encoded values; linear again."""
    a, b = (_encoded(values) for values in (base, light))
    mixed = np.asarray(srgb_decode(1 - (1 - a) * (1 - b)), np.float32)
    return np.where(light > 0, mixed, base)


def _encoded(light: Pixels) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return srgb_encode(np.clip(light, 0, 1).astype(np.float64))


def difference(added: Pixels, mixed: Pixels, light: Pixels, black_code: float) -> Difference:
    """Screen `mixed` against `added`, both cut at white, where the light is over the limit."""
    seen = (light > light_of(black_code)).any(-1)
    if not seen.any():
        return Difference(0, None, None, None)
    one, other = (brightness(np.clip(each[seen], 0, 1)) for each in (added, mixed))
    lit = (one > 0) & (other > 0)
    if not lit.any():
        return Difference(int(seen.sum()), None, None, None)
    stops = np.log2(other[lit] / one[lit])
    least, median, most = (float(v) for v in np.percentile(stops, [0, 50, 100]))
    return Difference(int(seen.sum()), median, least, most)


def hidden(light: Pixels, opaque_code: float) -> Pixels:
    """Share (h, w) that an element hides by its light (h, w, 3): all from a code on, linear."""
    share = brightness(light) / np.float32(light_of(opaque_code))
    return np.asarray(np.clip(share, 0, 1), np.float32)


def lift(before: Pixels, after: Pixels, dark_code: float) -> tuple[float, float] | None:
    """What became of a look's dark pixels: their median lift in codes and the share over 1 code.

    returns : None where the look has no luminance at or under `dark_code`
    """
    codes = [codes_of(brightness(each)) for each in (before, after)]
    dark = codes[0] <= dark_code
    if not dark.any():
        return None
    up = codes[1][dark] - codes[0][dark]
    return float(np.median(up)), float((up > 1).mean())
