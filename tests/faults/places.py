"""Caches and folders that are not what they should be, odd clocks, an address that goes away."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults.runs import BRIEF, CHEAP, HOOKS, Bench, Case, forgotten, run

YEAR_S = 365 * 86400
CALLS = (1, 2, 3, 5, 8)  # to an address before it goes away


@contextmanager
def mounted(folder: Path, *options: str) -> Iterator[bool]:
    """A small disk of its own at a folder; False where this machine does not let us."""
    folder.mkdir(exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", ",".join(options), "none", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        done = False
    try:
        yield done
    finally:
        if done:
            subprocess.run(["umount", "-l", str(folder)], check=True)


def remounted(folder: Path, *options: str) -> None:
    """Change a disk of `mounted`."""
    words = ",".join(["remount", *options])
    subprocess.run(["mount", "-o", words, str(folder)], check=True)


def places(bench: Bench) -> Iterator[Case]:
    """A cache or a folder that cannot be written, or is no folder: the result or a sentence."""
    for name, change in CACHES.items():
        work, cache = bench.fresh(BRIEF)
        asked = change(cache)
        ended = run(BRIEF.words, work, asked)
        yield bench.judged(f"cache: {name}", BRIEF, work, ended, name not in WELL)
    for warm in (False, True):
        work, cache = bench.fresh(BRIEF, frames=warm)
        with mounted(bench.folder / "disk", "size=64m") as done:
            if not done:
                continue
            own = bench.folder / "disk" / "cache"
            shutil.copytree(cache, own)
            remounted(bench.folder / "disk", "ro")
            ended = run(BRIEF.words, work, own)
            name = "cache: read-only, " + ("with" if warm else "without") + " the frames"
            yield bench.judged(name, BRIEF, work, ended)
    for job in CHEAP:
        _, cache = bench.fresh(job)
        with mounted(bench.folder / "disk", "size=64m") as done:
            if not done:
                continue
            job.lay(bench.folder / "disk")
            remounted(bench.folder / "disk", "ro")
            ended = run(job.words, bench.folder / "disk", cache)
            yield bench.judged(f"read-only folder: {job.name}", job, bench.folder / "disk", ended)


def _file(cache: Path) -> Path:
    shutil.rmtree(cache)
    cache.write_text("no folder")
    return cache


def _dangling(cache: Path) -> Path:
    shutil.rmtree(cache)
    cache.symlink_to(cache.parent / "nowhere" / "at-all")
    return cache


def _link(cache: Path) -> Path:
    link = cache.with_name(f"{cache.name}-link")
    link.symlink_to(cache)
    return link


def _inside(name: str, dangling: bool) -> Callable[[Path], Path]:
    def changed(cache: Path) -> Path:
        shutil.rmtree(cache / name, ignore_errors=True)
        if dangling:
            (cache / name).symlink_to(cache / "nowhere" / "at-all")
        else:
            (cache / name).write_text("no folder")
        return cache

    return changed


def _named(cache: Path) -> Path:
    return cache.rename(cache.with_name("Ünïcode & spaces ä€"))


CACHES: dict[str, Callable[[Path], Path]] = {
    "a file": _file,
    "a dangling link": _dangling,
    "a link to a folder": _link,
    "its frames are a file": _inside("frames", False),
    "its frames are a dangling link": _inside("frames", True),
    "its kernels are a file": _inside("kernels", False),
    "its kernels are a dangling link": _inside("kernels", True),
    "an odd name": _named,
    "below a file": lambda cache: cache / "engines.json" / "cache",
}
WELL = ("a link to a folder", "an odd name")  # must give the result


def clocks(bench: Bench) -> Iterator[Case]:
    """Times of files and of the clock that cannot be."""
    for name, by_s in (
        ("a year old", -YEAR_S),
        ("a year ahead", YEAR_S),
        ("of 1970", -time.time()),
    ):
        work, cache = bench.fresh(BRIEF, frames=True)
        for file in [*cache.rglob("*"), *work.iterdir()]:
            os.utime(file, (time.time() + by_s,) * 2)
        ended = run(BRIEF.words, work, cache)
        yield bench.judged(f"files {name}", BRIEF, work, ended, refuse=False)
    for name, by_s in (("back", -YEAR_S), ("ahead", YEAR_S)):
        for job in CHEAP:
            work, cache = bench.fresh(job)
            env = _hooked(TENTHSTOP_TEST_JUMP_S=str(by_s))
            ended = run(job.words, work, cache, env)
            case = f"the clock jumps a year {name}: {job.name}"
            yield bench.judged(case, job, work, ended, refuse=False)


def gone(bench: Bench) -> Iterator[Case]:
    """An address of frames that stops to answer after some calls: a sentence, then the result."""
    for calls in CALLS:
        work, cache = bench.fresh(BRIEF)
        address = f"leaving://{bench.folder / f'address-{calls}'}"
        env = _hooked(TENTHSTOP_FRAMES=address, TENTHSTOP_TEST_CALLS=str(calls))
        ended = run(BRIEF.words, work, cache, env)
        case = bench.judged(f"gone after {calls} calls", BRIEF, work, ended)
        env = _hooked(TENTHSTOP_FRAMES=address, TENTHSTOP_TEST_CALLS="1000000")
        after = bench.judged(case.name, BRIEF, work, run(BRIEF.words, work, cache, env), False)
        yield after if after.fault else case
        forgotten(cache)


def _hooked(**env: str) -> dict[str, str]:
    paths = [str(HOOKS), str(HOOKS.parents[2]), os.environ.get("PYTHONPATH", "")]
    return env | {"PYTHONPATH": os.pathsep.join(filter(None, paths))}
