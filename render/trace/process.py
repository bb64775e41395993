"""The worker's process from outside: how it gives way to others, and how it died."""

from __future__ import annotations

import contextlib
import os
import signal
import tempfile
from typing import IO

LESS = "a smaller picture or fewer workers take less memory"
SHORT = f"as may happen where memory runs out: {LESS}"


def give_way(process_id: int, steps: int) -> None:
    """Lower a new process's priority; its threads, which it has yet to start, take it over."""
    if steps and hasattr(os, "setpriority"):
        with contextlib.suppress(OSError):  # it is gone already, which is noticed elsewhere
            os.setpriority(os.PRIO_PROCESS, process_id, steps)


def log_file() -> IO[bytes] | None:
    """A file for what a worker says, as long as it lives; None where the disk has no room."""
    try:
        return tempfile.TemporaryFile()
    except OSError:
        return None


def last_words(log: IO[bytes] | None, code: int | None) -> str:
    """The last thing that a worker said before it died, and how it died where that tells more.

    code : what its process ended with; None for one that runs
    """
    lines = []
    if log is not None and not log.closed:
        log.seek(0)
        lines = log.read().decode(errors="replace").strip().splitlines()
    said = lines[-1] if lines else "it said nothing"
    if code == -signal.SIGKILL:
        return f"{said}; it was killed from outside, {SHORT}"
    if code is not None and code < 0:
        return f"{said}; {(signal.strsignal(-code) or str(code)).lower()}, {SHORT}"
    return said
