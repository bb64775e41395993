"""Numbers that lie in memory where a compiled kernel reads several of them at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

ROUND_BYTES = 64  # at least what any processor reads at once

Floats = NDArray[np.float32]


def at_round_address(values: Floats) -> Floats:
    """A copy of some float32 (n,) that begins at a multiple of ROUND_BYTES.

    The compiler reads the four numbers of a strand's point at once where their address allows it.
    Left to chance, every process would compile a kernel of its own and keep it in vain.
    """
    room = np.empty(values.size + ROUND_BYTES // values.itemsize, values.dtype)
    start = -room.ctypes.data % ROUND_BYTES // values.itemsize
    found = room[start : start + values.size]
    found[:] = values
    return found
