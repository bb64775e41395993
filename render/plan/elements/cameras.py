"""Two cameras compared: where they stand, lens, exposure, white balance."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from render.layout.people import eyes_of
from render.scenefile import Setup

# A tripod that stays where it is, the same lens and settings; how far one may be off before it
# shows. Common practice, no source.
PLACE_M, LENS_SHARE, EXPOSURE_STOPS, SHUTTER_STOPS, BALANCE_K = 0.05, 0.02, 0.1, 1 / 3, 200.0
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure of both sets."""

    what: str
    element: float
    portrait: float
    off: float  # the element's over the portrait's; of directions the angle between them
    unit: str  # of `off`
    limit: float | None  # for its size, common practice; None: listed only
    verdict: Literal["same", "differs", "listed"] = "listed"

    def judged(self) -> Compared:
        """The same with its verdict, where a limit gives one."""
        if self.limit is None:
            return self
        return replace(
            self, verdict="same" if abs(self.off) <= self.limit + ROUNDING else "differs"
        )


def compared(
    what: str, element: float, portrait: float, unit: str, limit: float | None
) -> Compared:
    """A figure whose difference counts."""
    return Compared(what, element, portrait, element - portrait, unit, limit).judged()


def cameras(setup: Setup, portrait: Setup) -> tuple[Compared, ...]:
    """Both cameras, figure by figure; both scenes have one."""
    own, there = setup.scene.camera, portrait.scene.camera
    assert own is not None
    assert there is not None
    eyes = [float(eyes_of(each.scene.sitter)[1]) for each in (setup, portrait)]
    stands = zip(eyes, (own, there), strict=True)
    heights = [eye if each.height_m is None else each.height_m for eye, each in stands]
    lens = own.focal_length_mm / there.focal_length_mm
    numbers = (own.f_number, there.f_number)
    speeds = (own.iso_speed, there.iso_speed)
    times = (own.shutter_s, there.shutter_s)
    return (
        compared("distance_m", own.distance_m, there.distance_m, "m", PLACE_M),
        compared("height_m", heights[0], heights[1], "m", PLACE_M),
        Compared(
            "focal_length_mm",
            own.focal_length_mm,
            there.focal_length_mm,
            lens - 1,
            "share",
            LENS_SHARE,
        ).judged(),
        _in_stops("f_number", numbers, -2.0, EXPOSURE_STOPS),
        _in_stops("iso_speed", speeds, 1.0, EXPOSURE_STOPS),
        _in_stops("shutter_s", times, 1.0, SHUTTER_STOPS),
        compared("white_balance_k", own.white_balance_k, there.white_balance_k, "K", BALANCE_K),
    )


def _in_stops(what: str, values: tuple[float, float], power: float, limit: float) -> Compared:
    """A setting whose ratio counts, in stops of light; + makes the element brighter."""
    off = power * math.log2(values[0] / values[1])
    return Compared(what, *values, off + 0.0, "stops", limit).judged()
