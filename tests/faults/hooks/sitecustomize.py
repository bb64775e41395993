"""Loaded by a command under test before anything else: its clock jumps, its address goes away."""

from __future__ import annotations

import os
import time
from typing import Any

JUMP, CALLS = "TENTHSTOP_TEST_JUMP_S", "TENTHSTOP_TEST_CALLS"
BEFORE = 3  # looks at the clock before it jumps


def _jumping(by_s: float) -> None:
    looks, told = [0], time.time

    def jumped() -> float:
        looks[0] += 1
        return told() + (by_s if looks[0] > BEFORE else 0.0)

    time.time = jumped


def _leaving(calls: int) -> None:
    """Have fsspec know `leaving://`: a folder that is gone after so many calls."""
    import fsspec
    from fsspec.implementations.local import LocalFileSystem

    left = [calls]

    class Leaving(LocalFileSystem):  # type: ignore[misc]
        protocol = "leaving"
        cachable = False

        @classmethod
        def _strip_protocol(cls, path: str) -> str:
            return str(LocalFileSystem._strip_protocol(path.removeprefix("leaving://")))

        def unstrip_protocol(self, name: str) -> str:
            return f"leaving://{name}"

    def counted(name: str) -> Any:
        known = getattr(LocalFileSystem, name)

        def called(self: Leaving, *words: Any, **options: Any) -> Any:
            left[0] -= 1
            if left[0] < 0:
                raise ConnectionResetError("connection reset by peer")
            return known(self, *words, **options)

        return called

    for name in ("_open", "pipe_file", "mv", "find", "rm_file", "makedirs"):
        setattr(Leaving, name, counted(name))
    fsspec.register_implementation("leaving", Leaving, clobber=True)


if JUMP in os.environ:
    _jumping(float(os.environ[JUMP]))
if CALLS in os.environ:
    _leaving(int(os.environ[CALLS]))
