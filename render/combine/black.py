"""Is black black: how far an element's empty set lies over the code that combines cleanly."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from render.combine.colour import Pixels, brightest, brightness, codes_of, light_of

# Upper ends of the histogram's classes, in codes: fine near black.
ENDS = (0, 1, 2, 3, 4, 6, 9, 13, 18, 25, 35, 50, 70, 100, 140, 200, 255)
RIM = 0.02  # share of the shorter side that counts as the picture's rim
PIECES = 8  # of each side of the rim: a rectangle shows by its worst piece
LOWER = 25  # per cent of a piece's pixels that are taken as free of grains
CHANGED_STOPS = 1.0  # that a set may be lit brighter than for its plate, by mistake; by eye


@dataclass(frozen=True, slots=True)
class Black:
    """The black of an element's picture at the portrait's development, gain included."""

    limit_code: float
    backdrop_code: float  # median luminance of all pixels: grains cover less than half
    backdrop_stops: float | None  # over the limit; None where it is 0
    over_share: float  # pixels with a channel over the limit, grains among them [-]
    rim_code: float  # lower quartile of the palest of 32 pieces of the rim: grains cross it
    clean: bool  # backdrop and rim at or under the limit, or over it by the element alone
    histogram: tuple[int, ...]  # pixels by code of their brightest channel, see ENDS

    @property
    def reach_code(self) -> float:
        """Code of the paler one of backdrop and rim."""
        return max(self.backdrop_code, self.rim_code)

    @property
    def over(self) -> bool:
        """Whether backdrop or rim lies over the limit, rounded as in a file of 8 bits."""
        return round(self.reach_code) > self.limit_code


def black_of(light: Pixels, limit_code: float) -> Black:
    """How black the backdrop of an element's light (h, w, 3) is."""
    peak, luminance = brightest(light), brightness(light)
    level = float(np.median(luminance))
    code, edge = codes_of(np.array([level, _palest(luminance)], np.float32)).tolist()
    # Rounded as in a file of 8 bits: a code of 3.2 is written as 3.
    under = [int((peak <= light_of(end + 0.5)).sum()) for end in ENDS[:-1]]
    return Black(
        limit_code=limit_code,
        backdrop_code=code,
        backdrop_stops=math.log2(level / light_of(limit_code)) if level > 0 else None,
        over_share=float((peak > light_of(math.floor(limit_code) + 0.5)).mean()),
        rim_code=edge,
        clean=round(max(code, edge)) <= limit_code,
        histogram=tuple(int(n) for n in np.diff([0, *under, peak.size])),
    )


def judged_by(left: Black, plate: Black) -> Black:
    """Black of what a clean plate left over, judged by the black of that plate, same gain."""
    found = light_of(left.reach_code) > element_from(plate)
    return replace(left, clean=not left.over or found)


def element_from(plate: Black) -> float:
    """Light over which what a clean plate leaves is the element: more than the set itself would
    add if it were lit brighter by CHANGED_STOPS."""
    return (2**CHANGED_STOPS - 1) * light_of(plate.reach_code)


def _palest(luminance: Pixels) -> float:
    """Highest lower quartile of luminance (h, w) among the pieces of the rim."""
    wide = max(1, round(RIM * min(luminance.shape)))
    upright = luminance.T
    sides = (luminance[:wide], luminance[-wide:], upright[:wide], upright[-wide:])
    pieces = [piece for side in sides for piece in np.array_split(side, PIECES, axis=1)]
    return max(float(np.percentile(piece, LOWER)) for piece in pieces if piece.size)
