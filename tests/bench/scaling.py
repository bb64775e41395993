"""Strong scaling: the same job by one worker of one thread, by two, four ... up to the cores.

`python -m tests.bench.scaling [--quick] [--workers 1 N ...]` prints JSON. All crews stand ready
and warm before the first starts; they take turns. Frames and readings are compared bit by bit.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from contextlib import ExitStack
from typing import Any

import numpy as np

from render.layout import place
from render.report.held import ALL, Measured, hold, measure
from render.scenefile import load_scene
from render.trace import Crew, Engine
from render.workers import LocalWorkers
from tests.bench.crews import SAMPLES, WARMING_SAMPLES, Frames, Job, same, timed
from tests.bench.figures import Figure, Part, Told

SCENE = "violin-two-lights"
SETS, WIDTH_PX, ROUNDS = 16, 128, 2
QUICK_SETS, QUICK_WIDTH_PX = 4, 96
READING_SAMPLES, QUICK_READING_SAMPLES = 1 << 18, 1 << 14  # in pieces that can be shared out
EFFICIENCY = 0.7  # where every worker has a core of its own: common practice, no source


def counts(most: int) -> list[int]:
    """1, 2, 4 ... and the most."""
    found = [1]
    while 2 * found[-1] < most:
        found.append(2 * found[-1])
    return [*found, most] if most > 1 else found


def measured(job: Job, counted: list[int], rounds: int, samples: int) -> dict[str, Any]:
    """Least wall time [s] of every crew for frames and for readings, and what differs."""
    walls: dict[int, list[float]] = {}
    read: dict[int, list[float]] = {}
    differing = 0
    with ExitStack() as open_:
        crews: dict[int, Engine | Crew] = {}
        for count in counted:
            crews[count] = open_.enter_context(LocalWorkers(count, "llvm"))
            _warm(job, crews[count], count)
            print(f"{count} ready", file=sys.stderr)
        alone = open_.enter_context(Engine("llvm", threads=max(counted)))  # 0 stands for it
        _warm(job, alone, 1)
        held = [hold(job.layout, i, ALL, None, None) for i in range(len(job.layout.points))]
        for turn in range(rounds):
            first: tuple[Frames, Measured] | None = None
            for count, crew in (crews | {0: alone}).items():
                run = timed(job.orders(turn * job.sets, job.sets, SAMPLES), crew)
                begun = time.perf_counter()
                readings = measure(job.layout, held, crew, samples)
                read.setdefault(count, []).append(time.perf_counter() - begun)
                walls.setdefault(count, []).append(run.wall_s)
                first = first or (run.frames, readings)
                alike = same(run.frames, first[0]) and _same_readings(readings, first[1])
                differing += not alike
                print(f"{count}: {run.wall_s:.1f} s, {read[count][-1]:.1f} s", file=sys.stderr)
    return {
        "job": f"{job.sets} sets of 2 lights, {job.width_px} x {job.height_px}, {SAMPLES} samples",
        "cores": len(os.sched_getaffinity(0)),
        "differing": differing,
        "frames": _rows(walls),
        "readings": _rows(read),
    }


def _warm(job: Job, crew: Engine | Crew, count: int) -> None:
    """Every worker compiles and builds: as many sets for each as make sure that it has one."""
    timed(job.orders(-2 * count, 2 * count, WARMING_SAMPLES), crew)


def _same_readings(one: Measured, two: Measured) -> bool:
    return np.array_equal(one.bounce, two.bounce) and np.array_equal(one.error, two.error)


def _rows(walls: dict[int, list[float]]) -> list[dict[str, float]]:
    one = min(walls[1])
    return [
        {
            "workers": count,  # 0: one process with a thread for every core
            "wall_s": min(each),
            "speed_up": one / min(each),
            "efficiency": one / min(each) / (count or max(walls)),
        }
        for count, each in walls.items()
    ]


def _judged(found: Any) -> Told:
    told = [Figure("crews whose bits differ from one worker's", found["differing"], at_most=0)]
    for what in ("frames", "readings"):
        for row in found[what]:
            count = row["workers"]
            who = f"{what}, {count} workers" if count else f"{what}, one process, all cores"
            if count != 1:
                judged = what == "frames" and 0 < count <= found["cores"]
                least = EFFICIENCY if judged else None
                told.append(Figure(f"{who}: speed-up", row["speed_up"], "times"))
                told.append(Figure(f"{who}: efficiency", row["efficiency"], at_least=least))
            else:
                told.append(Figure(f"{what}, 1 worker: wall", row["wall_s"], "s"))
    note = f"{found['job']}, {found['cores']} cores; says little where others are at work."
    return Told(told, [note])


PART = Part(
    "scaling",
    "Strong scaling with workers, one thread each: the same job by 1, 2, 4 ... up to the cores, "
    "frames and readings bit by bit the same.",
    lambda asked: ["--quick"] if asked.quick else [],
    _judged,
)


def main() -> None:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--quick", action="store_true")
    told.add_argument("--sets", type=int, help=f"default: {SETS}, quick {QUICK_SETS}")
    told.add_argument("--width", type=int, help=f"default: {WIDTH_PX}, quick {QUICK_WIDTH_PX}")
    told.add_argument("--rounds", type=int, help=f"default: {ROUNDS}, quick 1")
    told.add_argument("--workers", type=int, nargs="+", help="default: 1, 2, 4 ... the cores")
    told.add_argument("--reading-samples", type=int)
    given = told.parse_args()
    sets, width, samples, rounds = (
        (QUICK_SETS, QUICK_WIDTH_PX, QUICK_READING_SAMPLES, 1)
        if given.quick
        else (SETS, WIDTH_PX, READING_SAMPLES, ROUNDS)
    )
    job = Job(place(load_scene(SCENE)), given.sets or sets, given.width or width)
    samples, rounds = given.reading_samples or samples, given.rounds or rounds
    counted = given.workers or counts(len(os.sched_getaffinity(0)))
    if counted[0] != 1:
        told.error("--workers: the first is 1, which the others are compared with")
    print(json.dumps(measured(job, counted, rounds, samples)))


if __name__ == "__main__":
    main()
