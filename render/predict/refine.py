"""Raise the order of a quadrature until two orders agree."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ENOUGH_STOPS = 1e-4  # orders that agree so well, twice, need no finer one
SURE_STOPS = 1e-6  # nor do two orders that agree so well once
CARRIED = 0.1  # of the change before the last is no accident that the last one might be


def refine(
    by_order: Callable[[NDArray[np.intp], int], Floats], count: int, orders: tuple[int, ...]
) -> tuple[Floats, Floats]:
    """Raise the order for the stations where two orders still disagree.

    by_order : picks (k,), order -> (k,) float
    count    : of stations
    returns  : (m,) value of the last order used and (m,) its change from the one before [stops],
               at least a tenth of the change before that, which one lucky agreement cannot hide
    """
    pick = np.arange(count)
    value, error = by_order(pick, orders[0]), np.zeros(count)
    before = np.zeros(count)
    for order in orders[1:]:
        finer = by_order(pick, order)
        change = change_in_stops(value[pick], finer)
        first = order == orders[1]
        error[pick] = change if first else np.maximum(change, CARRIED * before[pick])
        value[pick], before[pick] = finer, change
        pick = pick[error[pick] > (SURE_STOPS if first else ENOUGH_STOPS)]
        if not len(pick):
            break
    return value, error


def change_in_stops(before: Floats, after: Floats) -> Floats:
    """How far two estimates (...) of the same light lie apart [stops], inf if one is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        change: Floats = np.abs(np.log2(after / before))
    return np.where(before == after, 0.0, np.where(np.isnan(change), np.inf, change))
