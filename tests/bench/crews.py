"""Two workers of one thread each against one process of one thread, on a small class set."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import psutil

from render.layout import Layout
from render.trace import Crew, Engine, FrameStore, Order, many_frames
from render.workers import LocalWorkers

SIZE_PX, SAMPLES, SETS = (240, 300), 64, 2
STEP_M = 0.05  # of the key from set to set: each needs a new frame of the key's


def orders(layout: Layout) -> list[Order]:
    """The set with its key moved step by step, all lights traced each time."""
    key, *others = layout.fronts
    found = []
    for k in range(SETS):
        # The others are widened by next to nothing, so that none of their frames is shared.
        lit = [replace(front, width_m=front.width_m + 1e-6 * k) for front in others]
        moved = replace(key, centre_m=key.centre_m + [-STEP_M * k, 0.0, 0.0])
        found.append(Order(replace(layout, fronts=(moved, *lit)), SAMPLES, SIZE_PX))
    return found


def timed(
    layout: Layout, crew: Engine | Crew, process_ids: Callable[[], list[int]]
) -> tuple[float, list[float]]:
    """Wall time, and processor time of each tracing process [s]: the quicker of two runs.

    The first compiles kernels in every process.
    """
    runs = []
    for _ in range(2):
        with tempfile.TemporaryDirectory() as folder:
            before = {pid: _processor_s(pid) for pid in process_ids()}
            start = time.perf_counter()
            list(many_frames(orders(layout), FrameStore(Path(folder)), crew))
            wall = time.perf_counter() - start
            spent = [_processor_s(pid) - before.get(pid, 0.0) for pid in process_ids()]
            runs.append((wall, spent))
    return min(runs)


def _processor_s(process_id: int) -> float:
    spent = psutil.Process(process_id).cpu_times()
    return float(spent.user + spent.system)


def crews(layout: Layout) -> dict[str, float]:
    """Speed-up by wall time, and the one that processor times allow on a machine of its own."""
    with Engine(threads=1) as engine:
        one_s, (one_cpu,) = timed(layout, engine, lambda: [engine.process_id or 0])
    with LocalWorkers(2) as crew:
        two_s, two_cpu = timed(layout, crew, lambda: crew.process_ids)
    paths = SETS * SAMPLES * SIZE_PX[0] * SIZE_PX[1]
    return {
        "class_set_one_thread_s": one_s,
        "class_set_two_workers_s": two_s,
        "two_workers_speedup": one_s / two_s,
        "two_workers_speedup_by_processor_time": one_cpu / max(two_cpu),
        "two_workers_to_one_processor_time": sum(two_cpu) / one_cpu,
        "class_set_samples_per_core_second": paths / one_cpu,
    }
