"""What the page takes to follow a hand: `python -m tests.bench.page [SCENE] [ENGINE]`.

Readings of a lamp that is being dragged, and the first picture after it is let go, by the page's
own queue, without browser and network; wall time and CPU time of both processes.
"""

from __future__ import annotations

import itertools
import os
import statistics
import sys
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path

from render.layout import Layout
from render.page.document import Document, open_document
from render.page.pictures import SKETCHES, Pictures, Wanted
from render.page.queue import Asked, Ears, Queue
from render.page.serve import NICE
from render.page.standing import Standing, stand
from render.page.told import FrameState
from render.page.trials import Trials
from render.scenefile.read import scene_tables
from render.trace import Engine, FrameStore

TRIES, MOVES = 12, 8
STEP_DEG = 3.0
PATIENCE_S = 120.0
TICKS = os.sysconf("SC_CLK_TCK")


class Seen(threading.Event):
    """Set when the moved light has its first picture; `last` when it has its last coarse one."""

    def __init__(self) -> None:
        super().__init__()
        self.at, self.last = 0.0, threading.Event()

    def grown(self, frames: dict[str, FrameState]) -> None:
        if not self.is_set():
            self.at = time.perf_counter()
        self.set()
        if max(state.samples for state in frames.values()) >= SKETCHES[-1][1]:
            self.last.set()


def main(scene: str = "violin-two-lights", name: str = "auto") -> None:
    document = open_document(scene_tables(scene)[0], None)
    standing = stand(document.checked(document.text))
    light = next(
        n for n, each in standing.setup.scene.light.items() if each.azimuth_deg is not None
    )
    start = float(standing.setup.scene.light[light].azimuth_deg or 0.0)
    tries = [_tried(document, standing, _turned(light, start, k)) for k in range(TRIES)]
    _say("readings while a lamp is dragged", [wall for wall, _ in tries], [cpu for _, cpu in tries])
    engine = Engine(name, nice=NICE)
    quick = Engine(engine.choice)
    with tempfile.TemporaryDirectory() as folder:
        pictures, seen = Pictures(FrameStore(Path(folder)), engine.name), Seen()
        ears = Ears(lambda _: None, lambda _: None, seen.grown, print)
        queue = Queue(engine, pictures, ears, quick)
        queue.start()
        number = itertools.count(1)
        queue.show(Asked(next(number), standing, pictures.wanted(standing.layout)))
        assert seen.last.wait(PATIENCE_S)
        _quiet(queue, standing, next(number))
        found = []
        for k in range(MOVES):
            keys = _turned(light, start, k + 1)
            text = document.edited(keys)
            seen.clear()
            seen.last.clear()
            before, begun = _cpu(quick), time.perf_counter()
            standing, frames = _stood(document, text, standing, pictures, queue)
            queue.show(Asked(next(number), standing, frames))
            assert seen.wait(PATIENCE_S)
            found.append((seen.at - begun, _cpu(quick) - before))
            assert seen.last.wait(PATIENCE_S)
            _quiet(queue, standing, next(number))
        queue.end()
    print(f"{engine.name}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    said = ", ".join(f"{wall:.3f}/{cpu:.2f}" for wall, cpu in found)
    print(f"first picture, wall/CPU of each move [s]: {said}")
    _say("first picture, from the third move on", *map(list, zip(*found[2:], strict=True)))


def _turned(light: str, start: float, k: int) -> dict[str, float]:
    return {f"light.{light}.azimuth_deg": start + STEP_DEG * (k + 1) * (-1 if start > 0 else 1)}


def _tried(document: Document, standing: Standing, keys: dict[str, float]) -> tuple[float, float]:
    wall, cpu = time.perf_counter(), time.process_time()
    Trials().run("bench", document, standing, keys, True)
    return time.perf_counter() - wall, time.process_time() - cpu


def _stood(
    document: Document, text: str, before: Standing, pictures: Pictures, queue: Queue
) -> tuple[Standing, Wanted | None]:
    """The set after a move, with its frames asked for as soon as it is placed, as in a session."""
    asked: list[Wanted | None] = []

    def placed(layout: Layout) -> None:
        asked.append(pictures.wanted(layout))
        queue.glimpse(asked[0])

    return stand(document.checked(text), before, placed=placed), asked[0]


def _quiet(queue: Queue, standing: Standing, number: int) -> None:
    """Wait until nothing is traced: the hand comes back after looking."""
    queue.show(Asked(number, replace(standing, traced=True), None))
    queue.ask(lambda _: None)


def _cpu(engine: Engine) -> float:
    """CPU time [s] of this process and of the tracer's."""
    told = Path(f"/proc/{engine.process_id}/stat").read_text().rpartition(")")[2].split()
    return time.process_time() + (int(told[11]) + int(told[12])) / TICKS


def _say(what: str, walls: list[float], cpus: list[float]) -> None:
    print(
        f"{what}: wall {1000 * statistics.median(walls):.0f} ms (least {1000 * min(walls):.0f}), "
        f"CPU {1000 * statistics.median(cpus):.0f} ms (least {1000 * min(cpus):.0f})"
    )


if __name__ == "__main__":
    main(*sys.argv[1:3])
