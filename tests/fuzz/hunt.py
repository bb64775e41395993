"""Drive one kind of input with many cases under a watch: faults, hangs and memory are told."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import tempfile
import time
import traceback
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import FrameType

from render.errors import TenthstopError
from tests.fuzz.targets import TARGETS

HANG_S = 10.0  # of processor time; a case that takes longer is a fault
WAITING_S = 120.0  # of wall time on a busy machine: for what waits instead of working
MOST_GROWN = 3 << 30  # bytes of address space above the start that a case may ask for


class HangError(BaseException):
    """A case took too long; no handler of the program's own may take it for one of its errors."""


@dataclass(slots=True)
class Told:
    """What became of the cases of one kind."""

    target: str
    cases: int = 0
    refused: int = 0
    right: int = 0
    slowest_s: float = 0.0  # processor time
    grown_mib: float = 0.0  # of the process at its largest, after the first tenth of the cases
    spent_s: float = 0.0  # processor time of all
    faults: list[str] = field(default_factory=list)


def hunt(target: str, cases: int, seed: int, seconds: float = 1e9, first: int = 0) -> Told:
    """Drive cases of a kind, numbered from `first`; stops early after so many seconds."""
    told = Told(target)
    prepare, _ = TARGETS[target]
    folder = Path(tempfile.mkdtemp(prefix=f"fuzz-{target}-"))
    signal.signal(signal.SIGVTALRM, _hang)
    signal.signal(signal.SIGALRM, _hang)
    began, base = time.monotonic(), 0.0
    try:
        case = prepare(folder)
        for number in range(first, first + cases):
            if time.monotonic() - began > seconds:
                break
            _one(told, case, f"{seed}/{target}/{number}")
            if told.cases == max(1, cases // 10):
                base = _peak_mib()
        told.grown_mib = _peak_mib() - base if base else 0.0
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return told


def _one(told: Told, case: object, name: str) -> None:
    started = time.process_time()
    signal.setitimer(signal.ITIMER_VIRTUAL, HANG_S)
    signal.setitimer(signal.ITIMER_REAL, WAITING_S)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)
            case(Random(name))  # type: ignore[operator]
        told.right += 1
    except TenthstopError as problem:
        told.refused += 1
        words = str(problem)
        if "\n" in words or not words.strip() or len(words) > 2000:
            told.faults.append(f"{name}: no sentence: {words[:200]!r}")
    except (Exception, HangError) as problem:
        where = traceback.extract_tb(problem.__traceback__)
        ours = [each for each in where if "render" in each.filename] or list(where)
        last = ours[-1]
        at = f"{Path(last.filename).name}:{last.lineno} {last.name}"
        told.faults.append(f"{name}: {type(problem).__name__} at {at}: {str(problem)[:160]}")
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
    spent = time.process_time() - started
    told.cases, told.spent_s = told.cases + 1, told.spent_s + spent
    told.slowest_s = max(told.slowest_s, spent)


def _hang(number: int, frame: FrameType | None) -> None:
    raise HangError(f"more than {HANG_S:g} s of work or {WAITING_S:g} s of waiting")


def _peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def bound_memory() -> None:
    """Let this process ask for a few gigabytes more than it has, and no more."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * os.sysconf("SC_PAGE_SIZE") + MOST_GROWN
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
