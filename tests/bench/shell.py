"""Commands of tenthstop run as from a shell, each with a store of light frames of its own."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import render

CHECKOUT = Path(render.__file__).resolve().parent.parent


def command(words: list[str], folder: Path, frames: Path | None = None) -> tuple[float, float]:
    """CPU time and wall time [s] of one command with all that it starts.

    folder : where it runs
    frames : its store of light frames; None for the user's
    Raises CalledProcessError with what it said.
    """
    return timed([sys.executable, "-m", "render", *words], folder, frames)


def timed(line: list[str], folder: Path, frames: Path | None = None) -> tuple[float, float]:
    """The same of any program that finds the checkout's packages."""
    environment = os.environ | {"PYTHONPATH": str(CHECKOUT)}
    if frames is not None:
        environment["TENTHSTOP_FRAMES"] = str(frames)
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(line, cwd=folder, env=environment, check=True, capture_output=True)
    wall_s, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall_s
