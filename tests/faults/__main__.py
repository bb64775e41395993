"""All faults, as tried every night: kills, full disks, broken caches, too little memory.

`python -m tests.faults` does every part, `python -m tests.faults broken memory` those two; it
prints a table and ends with 1 where anything was wrong. Parts that need a small disk or a group of
processes of their own (Linux, as root) leave those cases out elsewhere.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.faults.broken import broken, versions
from tests.faults.jobs import JOBS
from tests.faults.kills import Told, killed
from tests.faults.memory import memory
from tests.faults.pairs import pairs
from tests.faults.places import clocks, gone, places
from tests.faults.power import power
from tests.faults.runs import Bench, Case, Part
from tests.faults.space import space

PARTS: dict[str, Part] = {
    "power": power,
    "space": space,
    "memory": memory,
    "pairs": pairs,
    "broken": broken,
    "versions": versions,
    "places": places,
    "clocks": clocks,
    "gone": gone,
}
KILLS = "kills"


def main() -> int:
    """The program; 1 where there was a fault."""
    ask = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    ask.add_argument("parts", nargs="*", help=f"of {', '.join([KILLS, *PARTS])}; default: all")
    ask.add_argument("--kills", type=int, default=120, help="of all commands together")
    ask.add_argument("--seed", type=int, default=1, help="of the moments of the kills")
    ask.add_argument("--jobs", type=int, default=1, help="commands killed at the same time")
    ask.add_argument("--told", action="store_true", help="also print every sentence")
    asked = ask.parse_args()
    unknown = set(asked.parts) - {KILLS, *PARTS}
    if unknown:
        ask.error(f"no part is called {', '.join(sorted(unknown))}")
    wanted = asked.parts or [KILLS, *PARTS]
    with tempfile.TemporaryDirectory() as folder:
        good = _tried([name for name in wanted if name != KILLS], Path(folder), asked.told)
        if KILLS in wanted:
            good &= _killed(asked.kills, asked.seed, asked.jobs, Path(folder))
    return 0 if good else 1


def _tried(names: Sequence[str], folder: Path, aloud: bool) -> bool:
    """Do these parts and print their table, a row as soon as it is known; whether all was right."""
    if names:
        print("| part | cases | right results | one sentence, or ended | faults | s |")
        print("|---|---|---|---|---|---|", flush=True)
    good = True
    for name in names:
        began, cases = time.monotonic(), list[Case]()
        try:
            for case in PARTS[name](Bench(folder / name)):
                cases.append(case)
                if case.fault or (aloud and case.told):
                    words = f"{name}: {case.name}: {case.fault or case.told}"
                    print(words, file=sys.stderr, flush=True)
        finally:  # also where somebody has no time for more
            print(_row(name, cases, time.monotonic() - began), flush=True)
        good &= not any(case.fault for case in cases)
    return good


def _row(name: str, cases: Sequence[Case], spent_s: float) -> str:
    wrong = sum(bool(case.fault) for case in cases)
    told = sum(bool(case.told) and not case.fault for case in cases)
    right = len(cases) - told - wrong
    return f"| `{name}` | {len(cases)} | {right} | {told} | {wrong} | {spent_s:.0f} |"


def _killed(kills: int, seed: int, jobs: int, folder: Path) -> bool:
    """Share the kills among the commands; whether all was right."""
    with ThreadPoolExecutor(jobs) as pool:
        running = [
            pool.submit(killed, job, kills // len(JOBS), folder / f"kills-{i}", seed)
            for i, job in enumerate(JOBS)
        ]
        told = [each.result() for each in running]
    _show(told)
    return not any(each.faults for each in told)


def _show(told: list[Told]) -> None:
    print("| command | kills | completed | faults | drafts left | an undisturbed run, s |")
    print("|---|---|---|---|---|---|")
    for each in told:
        faults = len(each.faults)
        print(
            f"| `{each.job}` | {each.kills} | {each.completed} | {faults} | {each.left} | "
            f"{each.whole_s:.1f} |"
        )
    for each in told:
        for fault in each.faults[:20]:
            print(f"{each.job}: {fault}")


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
