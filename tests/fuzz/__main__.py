"""Bad input at scale, as it would run every night.

`python -m tests.fuzz --cases 20000` drives every kind of input and prints a table; it ends with 1
where there was a fault. `--target NAME --seed N` narrows it, `--case N/NAME/K` repeats one case.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict

from tests.fuzz.hunt import Told, bound_memory, hunt
from tests.fuzz.targets import TARGETS

PIECE = 500  # cases that one process drives before it makes room for another


def main() -> int:
    """The program; 1 where a case was a fault."""
    ask = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    ask.add_argument("--cases", type=int, default=20000)
    ask.add_argument("--seconds", type=float, default=3600, help="wall time at most")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    ask.add_argument("--target", choices=sorted(TARGETS))
    ask.add_argument("--case", help="one case of a report, as SEED/NAME/NUMBER")
    ask.add_argument("--json", action="store_true")
    asked = ask.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if asked.case:
        seed, target, number = asked.case.split("/")
        told = [hunt(target, 1, int(seed), first=int(number))]
    else:
        told = list(_all(asked))
    if asked.json:
        print(json.dumps([asdict(each) for each in told], indent=1))
    else:
        _show(told)
    return 1 if any(each.faults for each in told) else 0


def _all(asked: argparse.Namespace) -> Iterable[Told]:
    """Every kind, its share of the cases in pieces, on as many cores as asked for."""
    names = [asked.target] if asked.target else list(TARGETS)
    whole = sum(TARGETS[name][1] for name in names)
    pieces = []
    for name in names:
        share = asked.cases * TARGETS[name][1] // whole
        pieces += [(name, min(PIECE, share - at), at) for at in range(0, share, PIECE)]
    ends = time.monotonic() + asked.seconds
    found = {name: Told(name) for name in names}
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(asked.jobs, context, bound_memory, max_tasks_per_child=4) as pool:
        running = {
            pool.submit(_piece, name, count, asked.seed, ends, first): (name, first)
            for name, count, first in pieces
        }
        for done in as_completed(running):
            name, first = running[done]
            try:
                _add(found[name], done.result())
            except Exception as problem:  # the process itself is gone: a crash in a library
                told = f"{asked.seed}/{name}/{first}..: the process ended: {problem}"
                found[name].faults.append(told)
    return found.values()


def _piece(name: str, count: int, seed: int, ends: float, first: int) -> Told:
    return hunt(name, count, seed, ends - time.monotonic(), first)


def _add(one: Told, other: Told) -> None:
    for key in ("cases", "refused", "right", "spent_s"):
        setattr(one, key, getattr(one, key) + getattr(other, key))
    one.slowest_s = max(one.slowest_s, other.slowest_s)
    one.grown_mib = max(one.grown_mib, other.grown_mib)
    one.faults += other.faults


def _show(told: list[Told]) -> None:
    print("| input | cases | refused | right | faults | slowest, s CPU | grown, MiB | s CPU |")
    print("|---|---|---|---|---|---|---|---|")
    for each in told:
        faults = len(each.faults)
        print(
            f"| {each.target} | {each.cases} | {each.refused} | {each.right} | {faults} | "
            f"{each.slowest_s:.2f} | {each.grown_mib:.0f} | {each.spent_s:.0f} |"
        )
    for each in told:
        for fault in each.faults[:40]:
            print(fault)


if __name__ == "__main__":
    sys.exit(main())
