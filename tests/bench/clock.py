"""CPU time and peak memory of this process and of all that it started, tracers included."""

from __future__ import annotations

import os
import resource
import time
from collections.abc import Callable
from pathlib import Path

TICKS = os.sysconf("SC_CLK_TCK")
KIB_IN_MIB = 1024


def descendants() -> list[int]:
    """Process ids of the children of this process, and of theirs."""
    parents = {}
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            fields = _stat(int(folder.name))
            if fields:
                parents[int(folder.name)] = int(fields[1])
    found = [os.getpid()]
    for one in found:  # grows while it is read
        found += [child for child, parent in parents.items() if parent == one]
    return found[1:]


def spent_s() -> float:
    """CPU time [s] so far of this process and of all that it ever started."""
    total = time.process_time()
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    total += ended.ru_utime + ended.ru_stime
    return total + sum(spent_by(process) for process in descendants())


def spent_by(process: int) -> float:
    """CPU time [s] so far of one process and of its children that ended; 0 where it is gone."""
    return sum(map(int, _stat(process)[11:15])) / TICKS


def taken_s(work: Callable[[], object]) -> tuple[float, float]:
    """CPU time and wall time [s] of one run."""
    spent, begun = spent_s(), time.perf_counter()
    work()
    return spent_s() - spent, time.perf_counter() - begun


def least_s(work: Callable[[], object], repeats: int) -> float:
    """Least CPU time [s] of a few runs: the one that others disturbed least."""
    return min(taken_s(work)[0] for _ in range(repeats))


def peaks_mib() -> tuple[float, float]:
    """Peak memory [MiB] of this process, and of the largest that it started and still runs."""
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_IN_MIB
    return own, max((_peak_mib(process) for process in descendants()), default=0.0)


def _stat(process: int) -> list[str]:
    """What the kernel says of a process after its name: state, parent, ...; empty if it ended."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return []


def _peak_mib(process: int) -> float:
    try:
        lines = Path(f"/proc/{process}/status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(x.split()[1]) / KIB_IN_MIB for x in lines if x.startswith("VmHWM")), 0.0)
