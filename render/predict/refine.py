"""Raise the order of a quadrature until two orders agree."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ENOUGH_STOPS = 1e-4  # two orders that agree so well need no finer one


def refine(
    by_order: Callable[[NDArray[np.intp], int], Floats], count: int, orders: tuple[int, ...]
) -> tuple[Floats, Floats]:
    """Raise the order for the stations where two orders still disagree.

    by_order : picks (k,), order -> (k,) float
    count    : of stations
    returns  : (m,) value of the last order used and (m,) its change from the one before [stops]
    """
    pick = np.arange(count)
    value, error = by_order(pick, orders[0]), np.zeros(count)
    for order in orders[1:]:
        finer = by_order(pick, order)
        error[pick] = change_in_stops(value[pick], finer)
        value[pick] = finer
        pick = pick[error[pick] > ENOUGH_STOPS]
        if not len(pick):
            break
    return value, error


def change_in_stops(before: Floats, after: Floats) -> Floats:
    """How far two estimates (...) of the same light lie apart [stops], inf if one is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        change: Floats = np.abs(np.log2(after / before))
    return np.where(before == after, 0.0, np.where(np.isnan(change), np.inf, change))
