"""Means and standard errors from running sums, kept batch by batch."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Readings traced at a time; keeps the worker's memory near 0.2 GB.
LANES_AT_ONCE = 1 << 21


def mean_and_error(sums: Floats, squares: Floats, samples: int) -> tuple[Floats, Floats]:
    """Mean and its standard error from sums and sums of squares of independent samples."""
    mean = sums / samples
    spread = np.maximum(squares / samples - mean * mean, 0) / max(samples - 1, 1)
    return mean, np.sqrt(spread)


def batches(readings: int, samples: int) -> list[int]:
    """Samples per reading in each of the batches that together make `samples`."""
    at_once = max(1, min(samples, LANES_AT_ONCE // max(readings, 1)))
    full, rest = divmod(samples, at_once)
    return [at_once] * full + ([rest] if rest else [])


def added(sums: tuple[Any, ...] | None, more: tuple[Any, ...]) -> tuple[Any, ...]:
    """Running sums with another batch added."""
    return more if sums is None else tuple(a + b for a, b in zip(sums, more, strict=True))
