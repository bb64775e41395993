"""Strands lie in memory so that every process asks for the same kernel."""

from __future__ import annotations

import numpy as np
import pytest

from render.trace.addresses import at_round_address


@pytest.mark.parametrize("count", [1, 7, 4096, 1_000_003])
def test_numbers_lie_at_a_round_address_wherever_they_come_from(count: int) -> None:
    """Truth: the address itself; 64 bytes are the widest read of a processor (AVX-512)."""
    for shift in range(5):
        values = np.arange(count + shift, dtype=np.float32)[shift:]
        found = at_round_address(values)
        assert found.ctypes.data % 64 == 0
        assert found.flags.c_contiguous
        np.testing.assert_array_equal(found, values)
