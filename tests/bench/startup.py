"""How soon every command answers: all pages of help, and the commands that trace nothing.

`python -m tests.bench.startup [--quick]` prints JSON: least CPU and wall times of whole commands,
how many modules each loads, and which of them take longest. On a quiet machine a command of one
thread takes about as long as its CPU time, so that is what is judged.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from render.cli.app import app
from tests.bench.figures import Figure, Part, Told
from tests.bench.shell import CHECKOUT, command

SCENE = "violin-two-lights"
REPEATS, QUICK_REPEATS = 7, 2
FEW = 2  # times for what takes seconds
HELP_S = 0.3
WORK = (  # no light is traced for these
    "keys",
    "lights",
    "lesson list",
    f"meter {SCENE} --direct",
    f"who {SCENE} --direct",
    f"balance {SCENE} --direct",
    f"check {SCENE}",
    f"card {SCENE} --out card.png",
    "doctor",
)
TRACED = f"look {SCENE} --quality draft --size 240 --out look.png --engine llvm"
IMPORT = re.compile(r"import time:\s+(\d+) \|\s+\d+ \|\s+(\S+)")


def measured(repeats: int) -> list[dict[str, Any]]:
    """Of every command line: CPU time, wall time, modules."""
    names = [each.name for group in app.registered_groups for each in _commands(group)]
    helps = ["--help", *(f"{name} --help" for name in names)]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        command(TRACED.split(), folder, folder / "frames")  # makes the sitter, compiles
        found = [_row(line, repeats, folder) for line in helps]
        found += [_row(line, FEW, folder) for line in WORK]
        # Frames kept: only the picture is made of them.
        return [*found, _row(TRACED, FEW, folder, folder / "frames")]


def _commands(group: Any) -> list[Any]:
    made = group.typer_instance.registered_commands
    for each in made:
        each.name = each.name or each.callback.__name__
    return list(made)


def _row(line: str, repeats: int, folder: Path, frames: Path | None = None) -> dict[str, Any]:
    """One command line, its least times and what it loads."""
    spent = [command(line.split(), folder, frames) for _ in range(repeats)]
    counted, costs = _modules(line.split(), folder)
    return {
        "line": line.replace(" --out card.png", "").replace(" --out look.png", ""),
        "help": line.endswith("--help"),
        "cpu_s": min(cpu for cpu, _ in spent),
        "wall_s": min(wall for _, wall in spent),
        "modules": counted,
        "largest": [f"{name} {ms:.0f} ms" for name, ms in costs],
    }


def _modules(words: list[str], folder: Path) -> tuple[int, list[tuple[str, float]]]:
    """How many modules a command loads, and the four packages that take longest [ms]."""
    line = [sys.executable, "-X", "importtime", "-m", "render", *words]
    environment = os.environ | {"PYTHONPATH": str(CHECKOUT)}
    done = subprocess.run(line, cwd=folder, env=environment, capture_output=True, text=True)
    costs: Counter[str] = Counter()
    found = IMPORT.findall(done.stderr)
    for cost_us, name in found:
        costs[name.split(".")[0]] += int(cost_us)
    return len(found), [(name, us / 1000) for name, us in costs.most_common(4)]


def _judged(found: Any) -> Told:
    helps = [row for row in found if row["help"]]
    slowest = max(helps[1:], key=lambda row: row["cpu_s"])
    told = [
        Figure("tenthstop --help, CPU", helps[0]["cpu_s"], "s", at_most=HELP_S),
        Figure(f"slowest of {len(helps) - 1}: {slowest['line']}, CPU", slowest["cpu_s"], "s",
               at_most=HELP_S),
    ]  # fmt: skip
    told += [Figure(f"{row['line']}, CPU", row["cpu_s"], "s") for row in found if not row["help"]]
    notes = ["", "| command | CPU [s] | wall [s] | modules | takes longest to load |"]
    notes.append("|---|---|---|---|---|")
    notes += [
        f"| {row['line']} | {row['cpu_s']:.2f} | {row['wall_s']:.2f} | {row['modules']} | "
        f"{', '.join(row['largest'])} |"
        for row in found
    ]
    return Told(told, notes)


PART = Part(
    "startup",
    "Whole commands from the shell: every page of help, and the commands that trace nothing.",
    lambda asked: ["--quick"] if asked.quick else [],
    _judged,
)


if __name__ == "__main__":
    print(json.dumps(measured(QUICK_REPEATS if "--quick" in sys.argv else REPEATS)))
