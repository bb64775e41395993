"""What was clipped, lifted or lost when pictures were combined, and what to mind."""

from __future__ import annotations

import math
from dataclasses import dataclass

from render.combine.black import Black
from render.combine.colour import light_of
from render.combine.joining import DENSE, Difference
from render.combine.plates import Subtracted

BELOW_SHARE = 0.01  # of pixels under the plate by more than noise: it was lit otherwise; by eye
FULL_SHARE = 0.001  # of an element's pixels at the end of their range; by eye
GONE = 0.999  # share of its light outside the look: none of it is seen


@dataclass(frozen=True, slots=True)
class Laid:
    """One element: what was found in its file and what became of its light."""

    file: str
    width_px: int
    height_px: int
    colour: str
    notes: tuple[str, ...]  # what was converted
    way: str
    gain_stops: float
    matte: str
    full_share: float  # pixels at the end of the file's range: their light is not known [-]
    found: Black  # as in the file, gain included
    plate: Subtracted | None
    plate_black: Black | None  # of the plate itself, gain included
    black: Black  # after the plate; as found without one
    outside_share: float  # of its light, beyond the look's frame [-]
    masked_share: float  # of its light within the frame, taken by fade and regions [-]
    coverage: float  # mean share of the look that it covers where it lies, judged by its light [-]
    screen: Difference  # against adding
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A result and how it came about."""

    out: str
    width_px: int
    height_px: int
    look: str
    look_colour: str
    look_notes: tuple[str, ...]
    clipped_before_share: float  # pixels of the look with a channel over white [-]
    clipped_share: float  # pixels of the result with a channel over white [-]
    over_white_stops: float | None  # the brightest channel over white; None: nothing is over
    outside_share: float  # pixels with a channel under 0: colours that sRGB cannot show [-]
    lifted_code: float | None  # median rise of the look's dark pixels (code 30 or less)
    lifted_share: float | None  # of them, those that rise by more than a code [-]
    keeps_all: bool  # the file holds what lies over white and outside sRGB: EXR
    elements: tuple[Laid, ...]
    warnings: tuple[str, ...]


def minded(laid: Laid, bare_edge: bool, opaque_code: float) -> tuple[str, ...]:
    """What to mind about an element, one sentence each.

    bare_edge   : its own edge lies inside the look and is not faded
    opaque_code : code in its file that counts as covered in full
    """
    said = []
    black = laid.black
    if not black.clean:
        said.append(_dirty(black, laid.plate is not None))
    if bare_edge and round(black.rim_code) > 0:
        said.append("its own edge shows as a rectangle (cure: a fade)")
    if laid.coverage > DENSE and laid.matte == "none":
        said.append(
            f"by its brightness it covers {100 * laid.coverage:.1f} % of the look where it lies, "
            f"over {100 * DENSE:.0f} % (code {opaque_code:g} of its file counts in full, darker "
            "light in proportion; particles may hold back less); where it is as dense as that it "
            'looks transparent when added (cure: matte = "light"; its shadow on the sitter is '
            "left to paint)"
        )
    if laid.plate and laid.plate.below_share > BELOW_SHARE:
        said.append(
            f"{100 * laid.plate.below_share:.0f} % of its pixels are darker than the plate by more "
            "than noise: flash, camera or set changed in between"
        )
    if laid.full_share > FULL_SHARE:
        said.append(f"{100 * laid.full_share:.1f} % of its pixels are clipped in its file")
    if laid.outside_share > GONE:
        said.append("hardly any of its light lies in the look")
    return tuple(said)


def _dirty(black: Black, plated: bool) -> str:
    """What may have made an element's black pale, and the cure for either."""
    stops = math.log2(light_of(black.reach_code) / light_of(black.limit_code))
    reach = f"reaches code {black.reach_code:.1f}, {stops:.1f} stops over code {black.limit_code:g}"
    fills = round(black.rim_code) <= black.limit_code
    where = "fills more than half of its frame" if fills else "reaches the rim of its frame"
    cure = "a wider frame" if fills else "a wider frame or fade"
    if plated:
        return (
            f"what its plate left {reach}, no more than the plate's own light: either the set was "
            "lit brighter than for the plate (cure: a new plate under the same light) or the "
            f"element {where} (cure: {cure})"
        )
    return (
        f"its black {reach}: either its backdrop is lit (cure: less light on it) or the element "
        f"{where} (cure: {cure}); a clean plate tells them apart and takes the backdrop out"
    )
