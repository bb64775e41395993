"""Noise and time of our light frames against Blender's Cycles on the same set, outside reference.

`python -m tests.bench.cycles --bpy-python PATH [--json]`; PATH is any interpreter with bpy.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from subprocess import PIPE

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.trace.choice import choose_engine, worker_environment
from render.trace.stage import LUMINANCE
from render.trace.tally import chunks_for, samples_in
from tests.bench.cycles_set import ROOMS, SCENE, export, painted, plain_layout, stage_for

WIDTH_PX, SAMPLES, RENDERS = 160, 64, 6
LEAST_RENDERS = 4
ASPECT = 1.25
# Shares of height and width: cheeks, nose and brow of the sitter; the paper above the head.
PARTS = {"face": ((0.32, 0.58), (0.40, 0.62)), "backdrop": ((0.03, 0.12), (0.10, 0.90))}
PATCHES = 3  # along either side of a part, for the check that both trace the same light
ERRORS, BOUND_STOPS = 4.0, 0.02  # a difference beyond both is one of light, not of noise

Floats = NDArray[np.float64]
Figures = dict[str, float]


@dataclass(frozen=True, slots=True)
class Renders:
    """Independent pictures of one renderer and what one costs."""

    bright: Floats  # (renders, h, w) luminance, in a unit of its own
    processor_s: float  # of one picture, the least that others disturbed

    def part(self, name: str) -> Floats:
        """(renders, h, w) of the face or the backdrop."""
        _, height, width = self.bright.shape
        rows, columns = PARTS[name]
        down = slice(*(round(share * height) for share in rows))
        across = slice(*(round(share * width) for share in columns))
        return self.bright[:, down, across]

    def relative_variance(self, name: str) -> float:
        """Of one picture's median pixel, from the spread of the renders."""
        part = self.part(name)
        return float(np.median(part.var(0, ddof=1) / part.mean(0) ** 2))

    def patches(self, name: str) -> tuple[Floats, Floats]:
        """Means of the patches of a part in stops, and their standard errors."""
        rows = np.array_split(self.part(name), PATCHES, axis=1)
        found = [np.array_split(row, PATCHES, axis=2) for row in rows]
        means = np.array([[p.mean((1, 2)) for p in row] for row in found]).reshape(
            -1, len(self.bright)
        )
        error = means.std(1, ddof=1) / means.mean(1) / np.sqrt(len(self.bright)) / np.log(2)
        return np.log2(means.mean(1)), error


def read(file: Path) -> Renders:
    """What a renderer left."""
    with np.load(file) as data:
        start_s = float(data["start_s"]) if "start_s" in data else 0.0
        spent = float(np.min(data["processor_s"])) - start_s
        return Renders(data["pictures"].astype(float) @ np.array(LUMINANCE), spent)


def agreement(ours: Renders, theirs: Renders) -> Figures:
    """Largest difference of a patch, in stops and in errors, one exposure for all taken off."""
    pairs = [(ours.patches(name), theirs.patches(name)) for name in PARTS]
    apart = np.concatenate([a - b for (a, _), (b, _) in pairs])
    error = np.concatenate([np.hypot(a, b) for (_, a), (_, b) in pairs])
    apart -= np.average(apart, weights=error**-2)
    judged = (np.abs(apart) <= ERRORS * error) | (np.abs(apart) <= BOUND_STOPS)
    return {
        "patches": len(apart),
        "patches_apart": int((~judged).sum()),
        "largest_difference_stops": float(np.abs(apart).max()),
        "largest_difference_errors": float(np.abs(apart / error).max()),
    }


def compared(ours: Renders, theirs: Renders) -> Figures:
    """Variance x processor time of a median pixel, ours over theirs."""
    found = agreement(ours, theirs)
    for who, renders in (("ours", ours), ("cycles", theirs)):
        found[f"{who}_processor_s"] = renders.processor_s
        for name in PARTS:
            found[f"{who}_{name}_variance"] = renders.relative_variance(name)
    for name in PARTS:
        variance = ours.relative_variance(name) / theirs.relative_variance(name)
        found[f"{name}_variance_x_time_ratio"] = variance * ours.processor_s / theirs.processor_s
    return found


def in_turn(commands: list[list[str]], renders: int) -> None:
    """Let both render one picture after the other, so that they share good and bad moments."""
    environment = worker_environment(choose_engine("llvm"))
    with ExitStack() as open_:
        started = [
            open_.enter_context(
                subprocess.Popen(each, env=environment, text=True, stdin=PIPE, stdout=PIPE)
            )
            for each in commands
        ]
        for seed in range(renders):
            for each in started:
                assert each.stdin is not None
                assert each.stdout is not None
                each.stdin.write(f"{seed}\n")
                each.stdin.flush()
                if not any(line.startswith("rendered") for line in each.stdout):
                    raise SystemExit(f"{each.args} ended too soon")
        for each in started:
            each.communicate()  # no more seeds: both write their files and end


def no_bpy(interpreter: str) -> str:
    """Why an interpreter cannot be the reference; empty where it can."""
    if shutil.which(interpreter) is None:
        return f"{interpreter} is no interpreter (install bpy into one of its own)"
    look = "import importlib.util, sys; sys.exit(importlib.util.find_spec('bpy') is None)"
    found = subprocess.run([interpreter, "-P", "-c", look], capture_output=True)
    return f"{interpreter} has no bpy (install it into one of its own)" if found.returncode else ""


def case_figures(
    layout: Layout, room: str, surface: str, samples: int, asked: argparse.Namespace
) -> Figures:
    """Both renderers in one room."""
    reflectance = ROOMS[room]
    numbers = [str(n) for n in (asked.width, round(asked.width * ASPECT), samples)]
    with tempfile.TemporaryDirectory() as folder:
        here, mine, other = (str(Path(folder) / f"{n}.npz") for n in ("set", "ours", "cycles"))
        painted_set = painted(layout, reflectance)
        export(painted_set, stage_for(painted_set, surface), Path(here))
        own = [sys.executable, "-m", "tests.bench.cycles_ours", surface, str(reflectance)]
        # -P: this module has the name of one of theirs.
        outside = [asked.bpy_python, "-P", str(Path(__file__).with_name("cycles_theirs.py")), here]
        in_turn([[*own, mine, *numbers], [*outside, other, *numbers]], asked.renders)
        return compared(read(Path(mine)), read(Path(other)))


def main() -> None:
    """Run and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--bpy-python", required=True, help="an interpreter that has bpy")
    options.add_argument("--width", type=int, default=WIDTH_PX)
    options.add_argument("--samples", type=int, nargs="+", default=[SAMPLES], help="16, 32, 48 ...")
    options.add_argument("--renders", type=int, default=RENDERS, help=f"at least {LEAST_RENDERS}")
    options.add_argument("--rooms", nargs="+", choices=tuple(ROOMS), default=tuple(ROOMS))
    options.add_argument("--surface", nargs="+", choices=("matte", "gloss"), default=["matte"])
    options.add_argument("--json", action="store_true")
    asked = options.parse_args()
    if asked.renders < LEAST_RENDERS:
        options.error(f"{asked.renders} renders tell no spread (at least {LEAST_RENDERS})")
    if lacking := no_bpy(asked.bpy_python):
        options.error(lacking)
    layout, figures = plain_layout(), {}
    # As many samples as a look can have.
    counts = dict.fromkeys(samples_in(chunks_for(each)) for each in asked.samples)
    for surface, samples, room in product(asked.surface, counts, asked.rooms):
        case = f"{room}, {surface}, {samples} samples"
        figures[case] = case_figures(layout, room, surface, samples, asked)
        print(json.dumps({case: figures[case]}), file=sys.stderr, flush=True)
    if asked.json:
        print(json.dumps(figures, indent=1))
        return
    print(f"{SCENE} without hair, {asked.width} px wide, one thread\n")
    print(f"| figure | {' | '.join(figures)} |\n|---|{'---|' * len(figures)}")
    for name in next(iter(figures.values())):
        print(f"| {name} | {' | '.join(f'{each[name]:.3g}' for each in figures.values())} |")
    for case, each in figures.items():
        if each["patches_apart"] > 0:
            told = (
                f"{each['patches_apart']} patches differ by more than {BOUND_STOPS} stop and noise"
            )
            print(f"\n{case}: {told}")


if __name__ == "__main__":
    main()
