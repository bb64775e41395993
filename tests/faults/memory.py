"""Too little memory: for the worker, for the program, for a picture that is too large."""

from __future__ import annotations

import os
import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults.jobs import JOBS, Job
from tests.faults.runs import BRIEF, Bench, Case, Ended, run

GROUPS = Path("/sys/fs/cgroup/memory")  # control groups, version 1; asked for below
GROUPS_2 = Path("/sys/fs/cgroup")
MIB = 1 << 20
SPACES_MIB = (450, 600, 800)  # of addresses; libraries alone need about 400
HELD_MIB = (60, 90, 110, 125, 200)  # that a group of processes may hold
LARGE = ("--size", "3000", "--quality", "4")
LARGE_MIB = (900, 1300)
COMBINE = next(job for job in JOBS if job.name == "combine")
MANY = Job("look --workers 2", (*BRIEF.words, "--workers", "2"), BRIEF.results, BRIEF.lay)


def memory(bench: Bench) -> Iterator[Case]:
    """The result, one sentence, or an end by the system; then the next run completes."""
    for job in (BRIEF, COMBINE):
        for mib in SPACES_MIB:
            work, cache = bench.fresh(job)
            ended = run(job.words, work, cache, before=_space(mib))
            name = f"{mib} MiB of addresses: {job.name}"
            yield bench.again(bench.judged(name, job, work, ended, die=True), job, work, cache)
    yield _first_time(bench)
    for mib in LARGE_MIB:
        work, cache = bench.fresh(BRIEF)
        ended = run((*BRIEF.words, *LARGE), work, cache, before=_space(mib))
        case = bench.judged(f"{mib} MiB of addresses: a large picture", BRIEF, work, ended)
        yield bench.again(case, BRIEF, work, cache)
    for job in (BRIEF, MANY, COMBINE):
        for mib in HELD_MIB:
            work, cache = bench.fresh(job)
            with group(mib) as (there, enter):
                if not there:
                    return
                ended = run(job.words, work, cache, before=enter)
            name = f"{mib} MiB held: {job.name}"
            yield bench.again(bench.judged(name, job, work, ended, die=True), job, work, cache)


def _first_time(bench: Bench) -> Case:
    """A first run without memory must not be taken for an engine that does not work here."""
    work, cache = bench.fresh(BRIEF)
    (cache / "engines.json").unlink()
    ended: Ended = run(BRIEF.words, work, cache, before=_space(SPACES_MIB[0]))
    (work / "a.png").unlink(missing_ok=True)  # by another engine, perhaps
    name = "no memory for the first trial of an engine"
    if "Traceback" in ended.said:
        return Case(name, ended.said[-300:])
    return bench.again(Case(name), BRIEF, work, cache)


def _space(mib: int) -> Callable[[], None]:
    return lambda: resource.setrlimit(resource.RLIMIT_AS, (mib * MIB, mib * MIB))


@contextmanager
def group(mib: int) -> Iterator[tuple[bool, Callable[[], None]]]:
    """A group of processes that may hold so much memory, and how a process enters it.

    False where this machine does not let us make one.
    """
    old = GROUPS.is_dir()
    folder = (GROUPS if old else GROUPS_2) / f"tenthstop-{os.getpid()}"
    limit = folder / ("memory.limit_in_bytes" if old else "memory.max")
    there = True
    try:
        folder.mkdir()
        limit.write_text(str(mib * MIB))
    except OSError:
        there = False

    def enter() -> None:
        (folder / "cgroup.procs").write_text(str(os.getpid()))

    try:
        yield there, enter
    finally:
        if there:
            _leave(folder)


def _leave(folder: Path) -> None:
    """Workers that are still ending are moved out, so that their group can go."""
    for process in (folder / "cgroup.procs").read_text().split():
        try:
            (folder.parent / "cgroup.procs").write_text(process)
        except OSError:
            continue  # it has ended
    try:
        folder.rmdir()
    except OSError:
        return  # an empty group is left, which holds nothing
