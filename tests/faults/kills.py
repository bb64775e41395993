"""Kill a command at random moments, again and again, and look at what it leaves behind."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from render.page.document import open_document
from render.writing import MARK
from tests.faults.jobs import Job, alike, chunks_kept, command, contents
from tests.faults.saving import POWERS

ROOT = Path(__file__).resolve().parents[2]
TRIES = 3  # runs for each kill that is asked for: some end before they are killed
ORPHAN_S = 20.0  # for workers to see that their master is gone
WAITING_S = 300.0  # for one whole run on a busy machine


@dataclass(slots=True)
class Told:
    """What became of the kills of one command."""

    job: str
    kills: int = 0
    completed: int = 0  # runs that ended before they were killed, or were let go on
    left: int = 0  # drafts that lie about at the end
    whole_s: float = 0.0  # wall time of an undisturbed run
    faults: list[str] = field(default_factory=list)


def killed(job: Job, count: int, folder: Path, seed: int) -> Told:
    """Kill a command `count` times; all that it leaves must be whole, and its end must be right.

    Half of the kills take the whole group of processes, half only the command itself: then its
    workers must leave by themselves.
    """
    told, rng = Told(job.name), random.Random(f"{seed}/{job.name}")
    work, cache = folder / "work", folder / "cache"
    work.mkdir(parents=True)
    job.lay(work)
    before = {name: contents(work / name) for name in job.results}
    after = _undisturbed(told, job, folder, work, cache)
    kept: dict[str, int] = {}
    for _ in range(TRIES * count):
        if told.kills == count:
            break
        ended = _one(told, job, work, cache, rng)
        kept = _look(told, work, cache, kept, before, after)
        if ended:
            _again(told, job, work, cache)
            kept = {}
    told.left = len(_drafts(work, cache))
    if job.name != "save":
        _finish(told, job, work, cache, after)
    _swept(told, job, work, cache)
    return told


def _drafts(work: Path, cache: Path) -> list[Path]:
    return [*work.glob(f"{MARK}*"), *cache.glob(f"**/{MARK}*"), *cache.glob("**/*.tmp")]


def _swept(told: Told, job: Job, work: Path, cache: Path) -> None:
    """Drafts that have grown old go with the next run of their kind, or with `doctor --clear`."""
    for draft in _drafts(work, cache):
        os.utime(draft, (1, 1))
    if job.name == "save":
        document = open_document(work / "stool.toml", None)
        document.take(document.edited({"title": "the next save"}))
        document.save()
    else:
        job.lay(work)
        _run(told, job, work, cache)
    if cache.exists():
        words = [sys.executable, "-m", "render", "doctor", "--clear", "--json"]
        subprocess.run(words, env=_environment(cache), capture_output=True, check=True)
    told.faults += [f"{draft.name} is never cleared away" for draft in _drafts(work, cache)]


def _environment(cache: Path) -> dict[str, str]:
    return os.environ | {"TENTHSTOP_CACHE": str(cache), "PYTHONPATH": _paths()}


def _paths() -> str:
    return os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH", "")]))


def _undisturbed(
    told: Told, job: Job, folder: Path, work: Path, cache: Path
) -> list[dict[str, object]]:
    """What the results may be at the end; kernels stay compiled, light frames do not."""
    if job.name == "save":
        told.whole_s = 2.0
        texts = [(work / "stool.toml").read_bytes().replace(b"1/4", p.encode()) for p in POWERS]
        return [{"stool.toml": text} for text in texts]
    calm = folder / "calm"
    calm.mkdir()
    job.lay(calm)
    cache.mkdir()
    began = time.monotonic()
    _run(told, job, calm, cache)
    shutil.rmtree(cache / "frames", ignore_errors=True)
    again = folder / "again"
    again.mkdir()
    job.lay(again)
    began = time.monotonic()
    _run(told, job, again, cache)
    told.whole_s = time.monotonic() - began
    shutil.rmtree(cache / "frames", ignore_errors=True)
    return [{name: contents(calm / name) for name in job.results}]


def _run(told: Told, job: Job, work: Path, cache: Path) -> None:
    done = subprocess.run(
        command(job),
        cwd=work,
        env=_environment(cache),
        capture_output=True,
        text=True,
        timeout=WAITING_S,
        check=False,
    )
    if done.returncode != 0:
        told.faults.append(f"ended with {done.returncode}: {done.stderr[-300:]}")


def _one(told: Told, job: Job, work: Path, cache: Path, rng: random.Random) -> bool:
    """Start, wait a random while, kill; True where it had ended by itself."""
    started = subprocess.Popen(
        command(job),
        cwd=work,
        env=_environment(cache),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    began = time.monotonic()
    try:
        started.wait(rng.uniform(0, told.whole_s))
        told.whole_s = min(told.whole_s, time.monotonic() - began)  # other work slowed it before
        stderr = started.stderr.read().decode() if started.stderr else ""
        if started.returncode != 0:
            told.faults.append(f"ended with {started.returncode}: {stderr[-300:]}")
        return True
    except subprocess.TimeoutExpired:
        told.kills += 1
        if rng.random() < 0.5:
            os.killpg(started.pid, signal.SIGKILL)
            started.wait()
        else:
            started.kill()
            started.wait()
            _left(told, started.pid)
        return False
    finally:
        if started.stderr:
            started.stderr.close()


def _left(told: Told, group: int) -> None:
    """Workers of a killed command leave by themselves."""
    ends = time.monotonic() + ORPHAN_S
    while time.monotonic() < ends:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    told.faults.append(f"workers still run {ORPHAN_S:g} s after their master was killed")
    os.killpg(group, signal.SIGKILL)


def _look(
    told: Told,
    work: Path,
    cache: Path,
    kept: dict[str, int],
    before: dict[str, object],
    after: list[dict[str, object]],
) -> dict[str, int]:
    """Nothing is broken, nothing is half changed, and no finished chunk is lost."""
    try:
        for name, first in before.items():
            found = contents(work / name)
            if not any(alike(found, right) for right in (first, *(each[name] for each in after))):
                told.faults.append(f"{name} is neither the old one nor the new one")
        now = chunks_kept(cache / "frames")
        told.faults += [
            f"{name}: {now.get(name, 0)} chunks after {chunks}"
            for name, chunks in kept.items()
            if now.get(name, 0) < chunks
        ]
        return now
    except Exception as problem:
        told.faults.append(f"a broken file was left: {type(problem).__name__}: {problem}")
        return {}


def _again(told: Told, job: Job, work: Path, cache: Path) -> None:
    """From the beginning."""
    told.completed += 1
    for name in job.results:
        (work / name).unlink(missing_ok=True)
    job.lay(work)
    shutil.rmtree(cache / "frames", ignore_errors=True)


def _finish(told: Told, job: Job, work: Path, cache: Path, after: list[dict[str, object]]) -> None:
    """The next run completes, and shows what an undisturbed one does."""
    _run(told, job, work, cache)
    told.completed += 1
    for name in job.results:
        if not any(alike(contents(work / name), each[name]) for each in after):
            told.faults.append(f"{name} differs from that of an undisturbed run")
