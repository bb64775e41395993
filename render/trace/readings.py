"""Means and standard errors from sums that are traced chunk by chunk, by one or by many."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Paths traced at a time, about half a second of one core; each job costs 0.05 s beside (measured).
# Chunks are the same whoever traces them, and so are their seeds and sums.
PATHS_AT_ONCE = 1 << 19


def mean_and_error(sums: Floats, squares: Floats, samples: int) -> tuple[Floats, Floats]:
    """Mean and its standard error from sums and sums of squares of independent samples."""
    mean = sums / samples
    spread = np.maximum(squares / samples - mean * mean, 0) / max(samples - 1, 1)
    return mean, np.sqrt(spread)


def chunks(readings: int, samples: int) -> list[int]:
    """Samples per reading in each of the chunks, as even as can be, that make `samples`."""
    count = max(1, min(samples, -(-readings * samples // PATHS_AT_ONCE)))
    return [samples * (k + 1) // count - samples * k // count for k in range(count)]


def added(parts: Sequence[tuple[Any, ...]]) -> tuple[Any, ...]:
    """Sums over chunks, in the order of the chunks: floats depend on it."""
    return reduce(lambda a, b: tuple(x + y for x, y in zip(a, b, strict=True)), parts)
