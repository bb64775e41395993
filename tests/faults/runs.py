"""Run a command where something is wrong, and judge how it ends."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from render.writing import MARK
from tests.faults.jobs import JOBS, STOOL, Job, alike, contents

ROOT = Path(__file__).resolve().parents[2]
HOOKS = Path(__file__).parent / "hooks"  # a `sitecustomize` that makes clocks jump
HANG_S = 300.0  # far above what any of these takes on a busy machine
REFUSED = 2  # exit code after one sentence
BRIEF = Job(
    "look",
    ("render", "look", "stool.toml", "--quality", "16", "--size", "96", "--out", "a.png"),
    ("a.png",),
    lambda folder: (folder / "stool.toml").write_text(STOOL),
)
CHEAP = (BRIEF, *(job for job in JOBS if job.name not in ("look", "save")))


@dataclass(frozen=True, slots=True)
class Case:
    """One thing that was tried."""

    name: str
    fault: str = ""  # nothing where it was right
    told: str = ""  # the sentence it ended with, where it did


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended; `code` is None where it had to be stopped."""

    code: int | None
    said: str


def run(
    words: Sequence[str],
    work: Path,
    cache: Path,
    env: Mapping[str, str] | None = None,
    before: Callable[[], None] | None = None,
    via: Sequence[str] = (),
) -> Ended:
    """Run `python -m` with these words.

    before : called in the new process; via : a command that starts it
    """
    paths = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH", "")]))
    base = os.environ | {"TENTHSTOP_CACHE": str(cache), "PYTHONPATH": paths}
    try:
        done = subprocess.run(
            [*via, sys.executable, "-m", *words],
            cwd=work,
            env=base | dict(env or {}),
            preexec_fn=before,
            capture_output=True,
            text=True,
            timeout=HANG_S,
            check=False,
        )
    except subprocess.TimeoutExpired as late:
        return Ended(None, str(late))
    return Ended(done.returncode, done.stderr)


class Bench:
    """Undisturbed results to compare with, and fresh copies of a cache that has its kernels."""

    def __init__(self, folder: Path) -> None:
        self.folder, self._count = folder, 0
        self._calm: dict[str, dict[str, object]] = {}
        self.cache = folder / "calm-cache"
        self.cache.mkdir(parents=True)

    def calm(self, job: Job) -> dict[str, object]:
        """The results of an undisturbed run; its frames stay in `cache`."""
        if job.name not in self._calm:
            work = self.folder / f"calm-{job.name.replace(' ', '')}"
            work.mkdir()
            job.lay(work)
            ended = run(job.words, work, self.cache)
            if ended.code != 0:
                raise RuntimeError(f"an undisturbed {job.name} failed: {ended.said}")
            self._calm[job.name] = {name: contents(work / name) for name in job.results}
        return self._calm[job.name]

    def fresh(self, job: Job, frames: bool = False) -> tuple[Path, Path]:
        """A folder with the job's files, and a warm cache; without light frames unless asked."""
        self.calm(job)
        self._count += 1
        work, cache = (self.folder / f"{self._count}-{name}" for name in ("work", "cache"))
        work.mkdir()
        job.lay(work)
        left = None if frames else shutil.ignore_patterns("frames")
        shutil.copytree(self.cache, cache, ignore=left)
        return work, cache

    def judged(
        self, name: str, job: Job, work: Path, ended: Ended, refuse: bool = True, die: bool = False
    ) -> Case:
        """What to say about a run: right is the result, or one sentence where it may `refuse`.

        die : the system may have killed it, as for memory
        """
        told = _sentence(ended)
        laid = self.folder / "laid"
        shutil.rmtree(laid, ignore_errors=True)
        laid.mkdir()
        job.lay(laid)
        calm = self.calm(job)
        after = {each: contents(work / each) for each in job.results}
        if ended.code == 0 and not all(alike(after[each], calm[each]) for each in calm):
            return Case(name, "the result differs")
        if ended.code == 0:
            return Case(name, _litter(work))
        allowed = {each: (contents(laid / each), calm[each]) for each in job.results}
        if not all(any(alike(after[each], one) for one in allowed[each]) for each in allowed):
            return Case(name, "a result is neither the old nor the new one", told)
        killed = ended.code is not None and (ended.code < 0 or ended.code > 128)
        if die and killed:
            return Case(name, "", "ended by the system")
        if ended.code is None:
            return Case(name, "it hangs")
        if not told or not refuse or ended.code != REFUSED:
            return Case(name, f"ended with {ended.code}: {ended.said[-300:]}", told)
        return Case(name, _litter(work), told)

    def again(self, case: Case, job: Job, work: Path, cache: Path) -> Case:
        """The same case, where the next run completes; else its fault."""
        if case.fault:
            return case
        ended = run(job.words, work, cache)
        case_after = self.judged(f"{case.name}: the next run", job, work, ended, refuse=False)
        return case_after if case_after.fault else case


def _sentence(ended: Ended) -> str:
    """The one line that a user is told, or nothing."""
    lines = [line for line in ended.said.splitlines() if line.strip()]
    told = [line for line in lines if line.startswith("tenthstop: ")]
    return told[0] if len(told) == 1 and "Traceback" not in ended.said else ""


def _litter(work: Path) -> str:
    left = [each.name for each in work.glob(f"{MARK}*")]
    return f"drafts are left: {left}" if left else ""


def forgotten(cache: Path) -> None:
    """Forget the frames."""
    shutil.rmtree(cache / "frames", ignore_errors=True)


Part = Callable[[Bench], Iterator[Case]]
