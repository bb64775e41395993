"""Noise and time of our light frames against Blender's Cycles on the same set, outside reference.

`python -m tests.bench.cycles --bpy-python PATH [--json]`; PATH is any interpreter with bpy.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from render.trace.choice import choose_engine, worker_environment
from render.trace.stage import LUMINANCE
from tests.bench.cycles_set import ROOMS, SCENE, export, matte_stage, painted, plain_layout

WIDTH_PX, SAMPLES, RENDERS = 160, 64, 6
ASPECT = 1.25
# Shares of height and width: cheeks, nose and brow of the sitter; the paper above the head.
PARTS = {"face": ((0.32, 0.58), (0.40, 0.62)), "backdrop": ((0.03, 0.12), (0.10, 0.90))}
PATCHES = 3  # along either side of a part, for the check that both trace the same light
ERRORS, BOUND_STOPS = 4.0, 0.02  # a difference beyond both is one of light, not of noise

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Renders:
    """Independent pictures of one renderer and what one costs."""

    bright: Floats  # (renders, h, w) luminance, in a unit of its own
    processor_s: float  # of one picture, median

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
        spent = float(np.median(data["processor_s"])) - start_s
        return Renders(data["pictures"].astype(float) @ np.array(LUMINANCE), spent)


def agreement(ours: Renders, theirs: Renders) -> dict[str, float]:
    """Largest difference of a patch [stops] once one exposure for all is taken off, and in errors."""
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


def compared(ours: Renders, theirs: Renders) -> dict[str, float]:
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


def run(asked: argparse.Namespace) -> dict[str, dict[str, float]]:
    """Both renderers in each room, one after the other."""
    layout, found = plain_layout(), {}
    size = (str(asked.width), str(round(asked.width * ASPECT)))
    numbers = (*size, str(asked.samples), str(asked.renders))
    theirs_script = Path(__file__).with_name("cycles_theirs.py")
    for room, reflectance in ROOMS.items():
        with tempfile.TemporaryDirectory() as folder:
            here, mine, other = (Path(folder) / f"{name}.npz" for name in ("set", "ours", "cycles"))
            set_ = painted(layout, reflectance)
            export(set_, matte_stage(set_), here)
            own = (sys.executable, "-m", "tests.bench.cycles_ours", str(reflectance), str(mine))
            # -P: this module has the name of one of theirs.
            outside = (asked.bpy_python, "-P", str(theirs_script), str(here), str(other))
            for command in (own, outside):
                subprocess.run(
                    [*command, *numbers],
                    env=worker_environment(choose_engine("llvm")) if command is own else None,
                    check=True,
                    stdout=subprocess.DEVNULL,
                )
            found[room] = compared(read(mine), read(other))
            print(json.dumps({room: found[room]}), file=sys.stderr)
            if asked.keep:
                for file in (mine, other):
                    (asked.keep / f"{room.split()[0]}_{file.name}").write_bytes(file.read_bytes())
    return found


def main() -> None:
    """Run and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--bpy-python", required=True, help="an interpreter that has bpy")
    options.add_argument("--width", type=int, default=WIDTH_PX)
    options.add_argument("--samples", type=int, default=SAMPLES, help="16, 32, 48, 64 ...")
    options.add_argument("--renders", type=int, default=RENDERS, help="at least 4")
    options.add_argument("--keep", type=Path, help="folder for the pictures as arrays")
    options.add_argument("--json", action="store_true")
    asked = options.parse_args()
    figures = run(asked)
    if asked.json:
        print(json.dumps(figures, indent=1))
        return
    print(f"{SCENE} without hair, every surface matte, {asked.samples} samples, one thread\n")
    print(f"| figure | {' | '.join(figures)} |\n|---|{'---|' * len(figures)}")
    for name in next(iter(figures.values())):
        print(f"| {name} | {' | '.join(f'{each[name]:.3g}' for each in figures.values())} |")


if __name__ == "__main__":
    main()
