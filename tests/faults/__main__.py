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
from tests.faults.kills import killed
from tests.nightly import show


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
    headings = ("command", "kills", "completed", "faults", "drafts left", "an undisturbed run, s")
    rows = [
        (f"`{t.job}`", t.kills, t.completed, len(t.faults), t.left, f"{t.whole_s:.1f}")
        for t in told
    ]
    return show(headings, rows, {each.job: each.faults for each in told})


if __name__ == "__main__":
    sys.exit(main())
