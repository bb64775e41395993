"""Cut, emptied, flipped files of every kind that is kept, and caches of other versions."""

from __future__ import annotations

import json
import os
import random
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from tests.faults.jobs import STOOL, Job
from tests.faults.runs import BRIEF, Bench, Case, run

KINDS = {  # where each kind lies in the cache
    "light frames": "frames/*.npz",
    "kernels": "kernels/*.bin",
    "verdicts": "engines.json",
}
SITTER = STOOL.replace("[wanted]", '[sitter]\nmodel = "bram"\nhair = "bald"\n[wanted]')
MEASURED = Job(
    "balance a sitter",
    ("render", "balance", "sitter.toml", "--direct", "--write"),
    ("sitter.toml",),
    lambda folder: (folder / "sitter.toml").write_text(SITTER),
)
DENOISED = Job(
    "look --denoise", (*BRIEF.words, "--denoise"), BRIEF.results, BRIEF.lay
)  # keeps guides beside the frames
rng = random.Random(1)


def _emptied(file: Path) -> None:
    file.write_bytes(b"")


def _cut(file: Path) -> None:
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])


def _short(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:-1])


def _flipped(file: Path) -> None:
    content = bytearray(file.read_bytes())
    for _ in range(8):
        content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
    file.write_bytes(content)


def _zeros(file: Path) -> None:
    """As some file systems leave a file that had no time to be written."""
    file.write_bytes(bytes(file.stat().st_size))


def _folder(file: Path) -> None:
    file.unlink()
    file.mkdir()


def _dangling(file: Path) -> None:
    file.unlink()
    file.symlink_to("nowhere")


DAMAGE: tuple[Callable[[Path], None], ...] = (
    _emptied,
    _cut,
    _short,
    _flipped,
    _zeros,
    _folder,
    _dangling,
)


def broken(bench: Bench) -> Iterator[Case]:
    """Whatever is broken counts as absent: the same result, or one sentence."""
    for kind, pattern in KINDS.items():
        for damage in DAMAGE:
            yield _damaged(bench, BRIEF, kind, pattern, damage)
    for damage in (_cut, _flipped):
        yield _damaged(bench, DENOISED, "guides", KINDS["light frames"], damage)
    for damage in (_emptied, _cut, _flipped):
        yield _damaged(bench, MEASURED, "bodies", "sitters/*.npz", damage)


def _damaged(
    bench: Bench, job: Job, kind: str, pattern: str, damage: Callable[[Path], None]
) -> Case:
    name = f"{kind}, {damage.__name__.strip('_')}"
    work, cache = bench.fresh(job, frames=True)
    files = list(cache.glob(pattern))
    if not files:
        return Case(name, f"nothing to break in {pattern}")
    for file in files:
        damage(file)
    refuse = damage is _folder  # nothing can be kept there
    case = bench.judged(name, job, work, run(job.words, work, cache), refuse)
    if not case.fault and damage not in (_folder, _dangling):
        case = bench.again(case, job, work, cache)
    shutil.rmtree(cache)
    return case


def versions(bench: Bench) -> Iterator[Case]:
    """A cache that an older or a newer version has written."""
    for name, change in OTHERS.items():
        work, cache = bench.fresh(BRIEF, frames=True)
        change(cache)
        yield bench.judged(name, BRIEF, work, run(BRIEF.words, work, cache), refuse=False)
        shutil.rmtree(cache)


def _frames(
    change: Callable[[dict[str, np.ndarray]], dict[str, np.ndarray]],
) -> Callable[[Path], None]:
    def changed(cache: Path) -> None:
        for file in cache.glob("frames/*.npz"):
            with np.load(file) as stored:
                arrays = {name: stored[name] for name in stored.files}
            np.savez(file, **change(arrays))

    return changed


def _verdicts(content: object) -> Callable[[Path], None]:
    return lambda cache: (cache / "engines.json").write_text(json.dumps(content)) and None


def _kernels(step: int) -> Callable[[Path], None]:
    def changed(cache: Path) -> None:
        for file in cache.glob("kernels/*.bin"):
            content = file.read_bytes()  # its first byte is the version of the format
            file.write_bytes(bytes([content[0] + step]) + content[1:])

    return changed


def _more(cache: Path) -> None:
    """Folders and files that this version knows nothing of."""
    (cache / "newer").mkdir()
    (cache / "newer" / "index.db").write_bytes(os.urandom(99))
    (cache / "frames" / "index.sqlite").write_bytes(os.urandom(99))


OTHERS: dict[str, Callable[[Path], None]] = {
    "older: frames without squares": _frames(lambda a: {k: a[k] for k in a if k != "squares"}),
    "older: frames in double precision": _frames(lambda a: {k: a[k].astype(float) for k in a}),
    "newer: frames in half precision": _frames(lambda a: {k: a[k].astype(np.float16) for k in a}),
    "newer: frames with more in them": _frames(lambda a: a | {"depth": np.zeros(9)}),
    "older: verdicts of two words": _verdicts({"llvm_ad_rgb|": [True, "worked"]}),
    "newer: verdicts in tables": _verdicts({"format": 9, "engines": {"llvm": {"usable": True}}}),
    "older: kernels": _kernels(-1),
    "newer: kernels": _kernels(1),
    "newer: unknown files": _more,
}
