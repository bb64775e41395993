"""Kill every command at random moments, as it would be done every night.

`python -m tests.faults --kills 100` shares the kills among the commands, prints a table and ends
with 1 where anything was broken.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.faults.jobs import JOBS
from tests.faults.kills import Told, killed


def main() -> int:
    """The program; 1 where there was a fault."""
    ask = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    ask.add_argument("--kills", type=int, default=100, help="of all commands together")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--jobs", type=int, default=1, help="commands at the same time")
    ask.add_argument("--only", choices=[job.name for job in JOBS])
    asked = ask.parse_args()
    chosen = [job for job in JOBS if asked.only in (None, job.name)]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(asked.jobs) as pool:
        running = [
            pool.submit(killed, job, asked.kills // len(chosen), Path(folder) / str(i), asked.seed)
            for i, job in enumerate(chosen)
        ]
        told = [each.result() for each in running]
    _show(told)
    return 1 if any(each.faults for each in told) else 0


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
    sys.exit(main())
