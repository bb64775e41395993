"""One process with the engine that starts soonest, which crews are compared with."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from render.trace import Engine


@pytest.fixture(scope="session")
def alone() -> Iterator[Engine]:
    """With all threads of the machine."""
    with Engine("scalar", threads=os.cpu_count()) as running:
        yield running
