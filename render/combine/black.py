"""Is black black: how far an element's empty set lies over the code that combines cleanly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from render.combine.colour import Pixels, brightness, codes_of, light_of

# Upper ends of the histogram's classes, in codes: fine near black.
ENDS = (0, 1, 2, 3, 4, 6, 9, 13, 18, 25, 35, 50, 70, 100, 140, 200, 255)
RIM = 0.02  # share of the shorter side that counts as the picture's rim
WORST = 99.0  # per cent of the rim that must be under the limit: a rectangle shows by its edge


@dataclass(frozen=True, slots=True)
class Black:
    """The black of an element's picture at the portrait's development, gain included."""

    limit_code: float
    backdrop_code: float  # median luminance of all pixels: grains cover less than half
    backdrop_stops: float | None  # over the limit; None where it is 0
    over_share: float  # pixels with a channel over the limit, grains among them [-]
    rim_code: float  # what 99 % of the rim stay under
    clean: bool  # backdrop and rim at or under the limit
    histogram: tuple[int, ...]  # pixels by code of their brightest channel, see ENDS


def black_of(light: Pixels, limit_code: float) -> Black:
    """How black the backdrop of an element's light (h, w, 3) is."""
    peak = codes_of(light.max(-1))
    backdrop = np.median(brightness(light), keepdims=True)
    code = float(codes_of(backdrop)[0, 0])
    wide = max(1, round(RIM * min(peak.shape)))
    rim = np.ones(peak.shape, bool)
    rim[wide:-wide, wide:-wide] = False
    edge = float(np.percentile(peak[rim], WORST))
    level = float(backdrop[0, 0])
    # Rounded as in a file of 8 bits: a code of 3.2 is written as 3.
    clean = round(code) <= limit_code and round(edge) <= limit_code
    found = np.searchsorted(ENDS, np.round(peak).ravel())
    return Black(
        limit_code=limit_code,
        backdrop_code=code,
        backdrop_stops=math.log2(level / light_of(limit_code)) if level > 0 else None,
        over_share=float((np.round(peak) > limit_code).mean()),
        rim_code=edge,
        clean=clean,
        histogram=tuple(int(n) for n in np.bincount(found, minlength=len(ENDS))),
    )
