"""One engine for all tests of this folder; verdicts and kernels stay in the user's cache."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from render.trace import Engine


@pytest.fixture(scope="session")
def engine() -> Iterator[Engine]:
    """The best engine of this machine."""
    with Engine() as running:
        yield running
