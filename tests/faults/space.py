"""Disks that are full: small ones of their own, files that may not grow, calls that are refused."""

from __future__ import annotations

import errno
import os
import resource
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from render.writing import MARK
from tests.faults.places import mounted, remounted
from tests.faults.runs import BRIEF, CHEAP, Bench, Case, run
from tests.faults.writers import CARDS, WRITERS, Writer

WORK_KIB = (4, 8, 12, 16, 24, 64)  # of a disk with the job's folder; pages of 4 KiB
CACHE_KIB = (8, 40, 100, 140, 180, 220, 300)  # of a disk with a cache, verdict and kernels first
GROW_BYTES = (0, 300, 5000, 20_000, 60_000)
STEPS = 8  # places in a file where its disk is full
REFUSALS = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS)
CALLS = ("open", "fsync", "replace")  # of the system, in turn


def space(bench: Bench) -> Iterator[Case]:
    """The result or one sentence, nothing half done; with room, the next run completes."""
    for job in CHEAP:
        for kib in WORK_KIB:
            _, cache = bench.fresh(job)
            with mounted(bench.folder / "disk", f"size={kib}k") as done:
                if not done or not _laid(job.lay, bench.folder / "disk"):
                    continue
                disk = bench.folder / "disk"
                name = f"a folder of {kib} KiB: {job.name}"
                case = bench.judged(name, job, disk, run(job.words, disk, cache))
                remounted(disk, "size=64m")
                yield bench.again(case, job, disk, cache)
    for kib in CACHE_KIB:
        work, cache = bench.fresh(BRIEF)
        with mounted(bench.folder / "disk", f"size={kib}k") as done:
            if not done:
                continue
            own = bench.folder / "disk" / "cache"
            try:
                shutil.copytree(cache, own)
            except (OSError, shutil.Error):
                shutil.rmtree(own)
            case = bench.judged(
                f"a cache of {kib} KiB: look", BRIEF, work, run(BRIEF.words, work, own)
            )
            remounted(bench.folder / "disk", "size=64m")
            yield bench.again(case, BRIEF, work, own)
    for job in CHEAP:
        for most in GROW_BYTES:
            work, cache = bench.fresh(job)
            ended = run(job.words, work, cache, before=_growing(most))
            name = f"files of {most} bytes at most: {job.name}"
            yield bench.again(bench.judged(name, job, work, ended), job, work, cache)
    yield from refused(bench.folder / "refused")


def _laid(lay: Callable[[Path], object], folder: Path) -> bool:
    try:
        lay(folder)
    except OSError:
        return False
    return True


def _growing(most: int) -> Callable[[], None]:
    def limit() -> None:
        _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))

    return limit


def refused(folder: Path, writers: tuple[Writer, ...] = WRITERS + CARDS) -> Iterator[Case]:
    """Every writer of a user's file, stopped at several places in it and at every call."""
    folder.mkdir()
    for writer in writers:
        size = _size(writer, folder)
        for k in range(STEPS):
            with growing_to(size * k // STEPS):
                case = stopped(f"{writer.name}: full after {k}/{STEPS}", writer, folder)
            yield case
        for call in CALLS:
            for number in REFUSALS:
                with refusing(call, number) as met:
                    name = f"{writer.name}: {call} says {errno.errorcode[number]}"
                    case = stopped(name, writer, folder)
                if met:
                    yield case


def _size(writer: Writer, folder: Path) -> int:
    file = folder / writer.file
    lay(writer, file)
    writer.write(file)
    size = file.stat().st_size
    file.unlink()
    return size


def lay(writer: Writer, file: Path) -> None:
    """The old file, where there is one."""
    if writer.old is not None:
        with before_the_limit():
            file.write_bytes(writer.old)


def stopped(name: str, writer: Writer, folder: Path) -> Case:
    """Write over an old file where that cannot be: a sentence, the old file, no litter."""
    file = folder / writer.file
    lay(writer, file)
    try:
        writer.write(file)
        fault = "it was written"
    except writer.errors as problem:
        fault = "more than a line" if "\n" in str(problem) else ""
    except Exception as problem:
        fault = f"{type(problem).__name__}: {problem}"
    left = [each.name for each in folder.iterdir() if each.name.startswith(MARK)]
    now = file.read_bytes() if file.exists() else None
    for each in folder.iterdir():
        each.unlink()
    if not fault and left:
        fault = f"left {left}"
    if not fault and now != writer.old:
        fault = "the old file is gone or changed"
    return Case(name, fault)


@contextmanager
def growing_to(most: int) -> Iterator[None]:
    """Files of this process may grow so far."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def before_the_limit() -> AbstractContextManager[None]:
    """Files may grow as they like again, for a while."""
    return growing_to(resource.getrlimit(resource.RLIMIT_FSIZE)[1])


@contextmanager
def refusing(call: str, number: int) -> Iterator[list[str]]:
    """The first such call for a draft is refused; yields what was refused."""
    met: list[str] = []
    known = getattr(os, call)

    def refused_once(what: Any, *rest: Any, **options: Any) -> Any:
        ours = isinstance(what, int) or Path(what).name.startswith(MARK)
        if ours and not met:
            met.append(call)
            raise OSError(number, os.strerror(number))
        return known(what, *rest, **options)

    with patch.object(os, call, refused_once):
        yield met
