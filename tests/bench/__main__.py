"""How fast everything is, in one report: `python -m tests.bench --out FOLDER`.

Writes report.md and report.json there and prints the first; `--only NAME ...` picks parts, `--list`
names them, `--full` takes the size that DEVELOPERS.md states figures of (an hour and more on two
cores). Each part is a command of its own, so that one that fails takes no other with it.
"""

from __future__ import annotations

import argparse
import datetime
import json
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.figures import Asked, Part
from tests.bench.known import PARTS
from tests.bench.machine import described, load
from tests.bench.sheet import Outcome, data, markdown

PATIENCE_S = 3600.0  # for a part; none takes near as long on two quiet cores
SHOWN = 300  # characters of what a failed part said last


def main() -> int:
    """Run the parts that are asked for; 1 where one of them failed."""
    told = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    told.add_argument("--out", type=Path, metavar="FOLDER", help="also report.md and report.json")
    told.add_argument("--only", nargs="+", metavar="NAME", help="these parts")
    told.add_argument("--list", action="store_true", help="name the parts")
    told.add_argument("--full", action="store_true", help="the size of the stated figures")
    told.add_argument("--bpy-python", metavar="PATH", help="an interpreter with bpy, for cycles")
    given = told.parse_args()
    if given.list:
        print("\n".join(f"{part.name:<10} {part.asks}" for part in PARTS))
        return 0
    names = [part.name for part in PARTS]
    unknown = [name for name in given.only or () if name not in names]
    if unknown:
        told.error(f"--only: found {unknown[0]} (accepted: {', '.join(names)})")
    if given.out is not None:
        try:
            given.out.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            told.error(f"--out: {given.out}: {str(problem.strerror).lower()}")
    asked = Asked(not given.full, given.bpy_python)
    date = datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%d %H:%M UTC")
    machine = described()
    outcomes: list[Outcome] = []
    for part in PARTS:
        if given.only is None or part.name in given.only:
            outcomes.append(outcome(part, asked))
            if given.out is not None:  # after every part: a long run may be ended
                _write(given.out, asked, machine, date, outcomes)
    print(markdown(asked, machine, date, outcomes))
    return int(any(each.failed for each in outcomes))


def outcome(part: Part, asked: Asked) -> Outcome:
    """Run one part as its command; whatever it does, there is an outcome."""
    lacking = part.lacking(asked)
    if lacking:
        return Outcome(part, None, lacking)
    print(f"{part.name} ...", file=sys.stderr, flush=True)
    before, begun = load(), time.perf_counter()
    try:
        done = subprocess.run(
            [sys.executable, *part.command(asked)],
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
        )
    except subprocess.TimeoutExpired:
        return Outcome(part, None, f"took longer than {PATIENCE_S:.0f} s", failed=True)
    took_s, loads = time.perf_counter() - begun, (before, load())
    if done.returncode:
        said = " ".join(done.stderr.split())[-SHOWN:]
        why_not = f"exit code {done.returncode}: {said or 'nothing said'}"
        return Outcome(part, None, why_not, failed=True, took_s=took_s, load=loads)
    try:
        told = part.judged(part.read(done.stdout))
    except (ValueError, KeyError, TypeError, AssertionError) as problem:
        why_not = f"what it printed cannot be read: {type(problem).__name__}: {problem}"
        return Outcome(part, None, why_not, failed=True, took_s=took_s, load=loads)
    return Outcome(part, told, took_s=took_s, load=loads)


def _write(
    folder: Path, asked: Asked, machine: dict[str, object], date: str, outcomes: list[Outcome]
) -> None:
    page = markdown(asked, machine, date, outcomes)
    (folder / "report.md").write_text(page + "\n", encoding="utf-8")
    plain = json.dumps(data(asked, machine, date, outcomes), indent=1)
    (folder / "report.json").write_text(plain + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
