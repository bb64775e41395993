"""Stops, ratios and f-numbers as a photographer reads them."""

from __future__ import annotations

import math

import numpy as np

from render.photometry.number import Number

# Engraved whole-stop marks; mark k stands for the exact f-number 2^(k/2).
# Source: ISO 517:2008, marks from memory; below f/1 and above f/64 common practice, no source.
FIRST_MARK = -6
MARKS = (
    *("0.125", "0.18", "0.25", "0.35", "0.5", "0.7"),
    *("1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45", "64"),
    *("90", "128", "180", "256"),
)


def stops(ratio: Number) -> Number:
    """Stops of a ratio of light, + is brighter.

    ratio   : (...) float  light over reference light [-], >= 0
    returns : (...) float  log2 of it [stops]; -inf for no light
    Source: definition.
    """
    with np.errstate(divide="ignore"):
        result: Number = np.log2(ratio)
    return result


def ratio(stops: Number) -> Number:
    """Ratio of light that a number of stops makes [-], the inverse of `stops`."""
    result: Number = np.exp2(stops)
    return result


def key_to_fill(key: Number, fill: Number) -> Number:
    """K:F, each light metered alone: two stops apart is 4:1.

    key, fill : (...) float  light of each alone, same unit, fill > 0
    """
    return key / fill


def lighting_ratio(key: Number, fill: Number) -> Number:
    """(K+F):F, lit side to shadow side where the fill reaches both: two stops apart is 5:1.

    key, fill : (...) float  light of each alone, same unit, fill > 0
    """
    return (key + fill) / fill


def f_number_stops(f_number: Number) -> Number:
    """Exact stops from f/1 to an f-number [stops], + for less light let through: log2(N²)."""
    return 2.0 * stops(f_number)


def show_f_number(f_number: float) -> str:
    """An f-number as flash meters show it: whole-stop mark plus tenths, "f/8 +0.3".

    f_number : float  exact, f/11 being 2^3.5 = 11.31 [-]
    returns  : str    rounded once, to the nearest tenth of a stop; "-" for 0, nan or infinity
    Source: tenths are exponential, 8.0 and 3/10 is f/8.88 (flash-meter manuals).
    """
    if not math.isfinite(f_number) or f_number <= 0:
        return "-"
    mark, tenths = divmod(round(20.0 * math.log2(f_number)), 10)
    return f"f/{_mark(mark)} +0.{tenths}"


def show_power(share: float) -> str:
    """A power as flash heads show it: a whole stop below full plus tenths, "1/16 +0.3".

    share   : float  of full power [-], above 0 and at most 1
    returns : str    rounded once, to the nearest tenth of a stop; "1/1" for full power
    """
    below, tenths = divmod(round(10.0 * math.log2(share)), 10)
    mark = f"1/{2**-below}"
    return f"{mark} +0.{tenths}" if tenths else mark


def _mark(k: int) -> str:
    """Engraved mark of the whole stop k, or the exact value in two figures outside the series."""
    index = k - FIRST_MARK
    return MARKS[index] if 0 <= index < len(MARKS) else f"{float(f'{2 ** (k / 2):.2g}'):g}"
