"""Two workers of one thread each against one process of one thread, on a small class set.

`python -m tests.bench.crews` prints JSON; its options make the job smaller.
Everything runs side by side on this machine: bind it to two cores (`taskset -c 0,1`).
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from render.layout import Layout, place
from render.report.held import ALL, hold, measure
from render.scenefile import load_scene
from render.trace import Crew, Engine, FrameStore, LightFrame, Order, many_frames
from render.workers import ClusterWorkers, LocalWorkers
from tests.bench.clock import descendants, spent_by

SCENE = "violin-two-lights"
SAMPLES, WARMING_SAMPLES = 64, 32  # both have chunks of either size, so all kernels
SETS, ROUNDS, WIDTH_PX = 4, 2, 192
STEP_M = 0.05  # of the key from set to set: each needs a new frame of the key's
READING_SAMPLES = 65536  # so many that a reading of every meter point has several chunks
BUSY_S = 0.01  # of processor time; a process that took less was idle

Frames = list[dict[str, LightFrame]]


@dataclass(frozen=True, slots=True)
class Job:
    """A class set: so many places of the key, all lights traced each time."""

    layout: Layout
    sets: int
    width_px: int

    @property
    def paths(self) -> int:
        """Light paths from the camera."""
        return self.sets * SAMPLES * self.width_px * self.height_px

    @property
    def height_px(self) -> int:
        """Frames are 4 x 5."""
        return self.width_px * 5 // 4

    def orders(self, first: int, count: int, samples: int) -> Iterator[Order]:
        """Sets from a place of the key on."""
        key, *others = self.layout.fronts
        for k in range(first, first + count):
            # The others are widened by next to nothing, so that none of their frames is shared.
            lit = [replace(front, width_m=front.width_m + 1e-6 * k) for front in others]
            moved = replace(key, centre_m=key.centre_m + [-STEP_M * k, 0.0, 0.0])
            made = replace(self.layout, fronts=(moved, *lit))
            yield Order(made, samples, (self.width_px, self.height_px))


@dataclass(frozen=True, slots=True)
class Timed:
    """One run of a job."""

    frames: Frames
    wall_s: float
    processor_s: tuple[float, ...]  # of each tracing process that was busy


def timed(orders: Iterator[Order], crew: Engine | Crew) -> Timed:
    """Trace orders into a fresh store."""
    with tempfile.TemporaryDirectory() as folder:
        before, start = _tracers(), time.perf_counter()
        frames = list(many_frames(orders, FrameStore(Path(folder)), crew))
        wall_s = time.perf_counter() - start
    spent = [now - before.get(pid, 0.0) for pid, now in _tracers().items()]
    return Timed(frames, wall_s, tuple(each for each in spent if each > BUSY_S))


def _tracers() -> dict[int, float]:
    """Processor time so far [s] of every tracing process that we or our workers started."""
    return {each: spent_by(each) for each in descendants() if _traces(each)}


def _traces(process: int) -> bool:
    try:
        return b"render.trace.worker" in Path(f"/proc/{process}/cmdline").read_bytes()
    except OSError:  # it ended
        return False


@contextmanager
def local_cluster(engine: str) -> Iterator[ClusterWorkers]:
    """A scheduler and two workers of one thread each, all on this machine."""
    import distributed

    running = distributed.LocalCluster(
        processes=True, n_workers=2, threads_per_worker=1, dashboard_address=None
    )
    with running, ClusterWorkers(running.scheduler_address, engine) as crew:
        yield crew


def same(one: Frames, two: Frames) -> bool:
    """Bit for bit: means, variances and numbers of samples."""
    return len(one) == len(two) and all(
        list(a) == list(b)
        and all(
            np.array_equal(a[k].mean, b[k].mean)
            and np.array_equal(a[k].variance, b[k].variance)
            and a[k].samples == b[k].samples
            for k in a
        )
        for a, b in zip(one, two, strict=True)
    )


def crews(
    layout: Layout,
    sets: int = SETS,
    rounds: int = ROUNDS,
    width_px: int = WIDTH_PX,
    engine: str = "llvm",
) -> dict[str, float]:
    """Start-up, then wall and processor times of every round, one process before the two crews.

    Raises AssertionError where frames or readings differ in a single bit.
    """
    job, figures, hands = Job(layout, sets, width_px), {}, {}
    makes: dict[str, Callable[[], AbstractContextManager[Engine | Crew]]] = {
        "one_process": lambda: Engine(engine, threads=1),
        "two_workers": lambda: LocalWorkers(2, engine),
        "two_on_cluster": lambda: local_cluster(engine),
    }
    with ExitStack() as open_:
        for name, make in makes.items():
            start = time.perf_counter()
            hands[name] = open_.enter_context(make())
            warming = 2 * hands[name].hands
            warm = timed(job.orders(-warming, warming, WARMING_SAMPLES), hands[name])
            figures[f"{name}_start_and_warming_s"] = time.perf_counter() - start
            figures[f"{name}_warming_processor_s"] = sum(warm.processor_s)
            print(f"{name}: ready", file=sys.stderr)
        for k in range(rounds):
            runs = {n: timed(job.orders(k * sets, sets, SAMPLES), h) for n, h in hands.items()}
            figures |= _round(job, runs, f"round_{k + 1}_")
            print(json.dumps(figures), file=sys.stderr)
        _same_readings(layout, list(hands.values()))
    return figures


def _round(job: Job, runs: dict[str, Timed], mark: str) -> dict[str, float]:
    """Figures of one round; the frames of every crew are those of one process."""
    alone = runs["one_process"]
    found = {f"{mark}one_process_samples_per_core_s": job.paths / sum(alone.processor_s)}
    for name, run in runs.items():
        assert same(run.frames, alone.frames), f"frames of {name} differ from those of one process"
        found[f"{mark}{name}_s"] = run.wall_s
        found[f"{mark}{name}_processor_s"] = sum(run.processor_s)
        if run is not alone:
            found[f"{mark}{name}_speedup"] = alone.wall_s / run.wall_s
            found[f"{mark}{name}_speedup_by_processor_time"] = sum(alone.processor_s) / max(
                run.processor_s
            )
    return found


def _same_readings(layout: Layout, hands: list[Engine | Crew]) -> None:
    held = [hold(layout, i, ALL, None, None) for i in range(len(layout.points))]
    first, *others = (measure(layout, held, each, READING_SAMPLES) for each in hands)
    for other in others:
        assert np.array_equal(first.bounce, other.bounce), "bounce differs"
        assert np.array_equal(first.error, other.error), "its standard error differs"


def main() -> None:
    """Run and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sets", type=int, default=SETS)
    asked.add_argument("--rounds", type=int, default=ROUNDS)
    asked.add_argument("--width", type=int, default=WIDTH_PX)
    asked.add_argument("--engine", default="llvm")
    given = asked.parse_args()
    layout = place(load_scene(SCENE))
    found = crews(layout, given.sets, given.rounds, given.width, given.engine)
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
