"""Bad input at scale, as it would run every night.

`python -m tests.fuzz --cases 20000` drives every kind of input and prints a table; it ends with 1
where there was a fault. `--target NAME --seed N` narrows it, `--case N/NAME/K` repeats one case.
"""

from __future__ import annotations

import argparse
import faulthandler
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict

from tests.fuzz.hunt import Told, bound_memory, hunt
from tests.fuzz.targets import HEAVY, TARGETS
from tests.nightly import show

MARK = "told: "  # before the result, for libraries print lines of their own
PIECE = 500  # cases of one process: a crash of a library ends no others
SLOW_PIECE = 25  # of those that take seconds each
WAITING_S = 900  # wall time of a piece on a busy machine; hangs that no signal ends


def main() -> int:
    """The program; 1 where a case was a fault."""
    ask = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    ask.add_argument("--cases", type=int, default=20000)
    ask.add_argument("--seconds", type=float, default=3600, help="wall time at most")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    ask.add_argument("--target", choices=sorted(TARGETS))
    ask.add_argument("--case", help="one case of a report, as SEED/NAME/NUMBER")
    ask.add_argument("--first", type=int, help="of one piece, driven in this process")
    ask.add_argument("--json", action="store_true")
    asked = ask.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if asked.case:
        seed, target, number = asked.case.split("/")
        told = [hunt(target, 1, int(seed), first=int(number))]
    elif asked.first is not None:
        faulthandler.enable()
        bound_memory()
        told = [hunt(asked.target, asked.cases, asked.seed, asked.seconds, asked.first)]
    else:
        told = list(_all(asked))
    if asked.json:
        print(f"{MARK}{json.dumps([asdict(each) for each in told])}")
        return 1 if any(each.faults for each in told) else 0
    headings = (
        "input",
        "cases",
        "refused",
        "right",
        "faults",
        "slowest, s CPU",
        "grown, MiB",
        "s CPU",
    )
    rows = [
        (t.target, t.cases, t.refused, t.right, len(t.faults))
        + (f"{t.slowest_s:.2f}", f"{t.grown_mib:.0f}", f"{t.spent_s:.0f}")
        for t in told
    ]
    return show(headings, rows, {each.target: each.faults for each in told})


def _all(asked: argparse.Namespace) -> Iterable[Told]:
    """Every kind, its share of the cases in pieces, on as many cores as asked for."""
    names = [asked.target] if asked.target else list(TARGETS)
    whole = sum(TARGETS[name][1] for name in names)
    ends = time.monotonic() + asked.seconds
    found = {name: Told(name) for name in names}
    with ThreadPoolExecutor(asked.jobs) as pool:
        running = []
        for name in names:
            share = -(-asked.cases * TARGETS[name][1] // whole)
            piece = SLOW_PIECE if name in HEAVY else PIECE
            running += [
                pool.submit(_piece, name, min(piece, share - at), asked.seed, at, ends)
                for at in range(0, share, piece)
            ]
        for done in running:
            told = done.result()
            _add(found[told.target], told)
    return found.values()


def _piece(name: str, count: int, seed: int, first: int, ends: float) -> Told:
    """One piece in a process of its own."""
    left = ends - time.monotonic()
    if left <= 0:
        return Told(name)
    words = ("--target", name, "--cases", count, "--seed", seed, "--first", first)
    command = [sys.executable, "-m", "tests.fuzz", *map(str, words), "--seconds", f"{left:.0f}"]
    told, at = Told(name), f"{seed}/{name}/{first}..{first + count - 1}"
    try:
        done = subprocess.run(
            [*command, "--json"],
            capture_output=True,
            encoding="utf-8",
            errors="replace",
            timeout=WAITING_S,
            check=False,
        )
        return Told(**json.loads(done.stdout.rpartition(MARK)[2])[0])
    except subprocess.TimeoutExpired:
        told.faults.append(f"{at}: a hang")
    except (ValueError, IndexError):  # the process itself is gone: a crash in a library
        told.faults.append(f"{at}: ended with {done.returncode}: {done.stderr[-400:]}")
    return told


def _add(one: Told, other: Told) -> None:
    for key in ("cases", "refused", "right", "spent_s"):
        setattr(one, key, getattr(one, key) + getattr(other, key))
    one.slowest_s = max(one.slowest_s, other.slowest_s)
    one.grown_mib = max(one.grown_mib, other.grown_mib)
    one.faults += other.faults


if __name__ == "__main__":
    sys.exit(main())
