"""What a drag costs, and what comes after it: `python -m tests.bench.drags [SCENE] [--refining]`.

Readings of everything that can be dragged, a try each, CPU time of this process.

--refining : a lamp is dragged while the set is being refined, then let go; from there to the first
             refined picture of the moved lamp, wall time and CPU time of the engine that refines.
             With and without leaving chunks alone while the hand moves; the sets are placed
             beforehand, bounce is left out.
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

from render.page.document import Document, open_document
from render.page.hand import Hand
from render.page.pictures import Pictures
from render.page.queue import Asked, Ears, Queue
from render.page.serve import NICE
from render.page.standing import Standing, stand
from render.page.told import FrameState
from render.page.trials import Trials
from render.scenefile.read import scene_tables
from render.trace import Engine, FrameStore
from tests.bench.page import PATIENCE_S, TICKS, TRIES, _say, _tried, _turned

DRAG_S, ROUNDS, REFINED = 2.0, 5, 4  # seconds; of each kind; samples of a first refined picture


class Idle(Hand):
    """A hand that nobody takes notice of."""

    def moves(self) -> None:
        return


def main(scene: str = "violin-two-lights", what: str = "--readings") -> None:
    document = open_document(scene_tables(scene)[0], None)
    if what == "--refining":
        _refining(document)
        return
    standing = stand(document.checked(document.text))
    for name, begin in _movable(standing):
        tries = [_tried(document, standing, {name: begin + 0.01 * k}) for k in range(1, 1 + TRIES)]
        _say(name, [wall for wall, _ in tries], [cpu for _, cpu in tries])


def _movable(standing: Standing) -> list[tuple[str, float]]:
    """Keys that a drag changes, and what they are."""
    scene = standing.setup.scene
    found = [] if scene.sitter is None else [("sitter.turn_deg", float(scene.sitter.turn_deg))]
    placed = [(f"panel.{name}", each) for name, each in scene.panel.items()]
    placed += [(f"light.{name}", each) for name, each in scene.light.items()]
    return found + [(f"{k}.distance_m", each.distance_m) for k, each in placed if each.distance_m]


def _refining(document: Document) -> None:
    first = replace(stand(document.checked(document.text)), traced=True)
    lights = first.setup.scene.light
    light = next(name for name, each in lights.items() if each.azimuth_deg is not None)
    start, refined = float(lights[light].azimuth_deg or 0.0), threading.Event()

    def grown(frames: dict[str, FrameState]) -> None:
        if light in frames and frames[light].samples >= REFINED:
            refined.set()

    for kind in (Idle, Hand):
        engine, hand = Engine("auto", nice=NICE), kind()
        with tempfile.TemporaryDirectory() as folder:
            pictures = Pictures(FrameStore(Path(folder)), engine.name)
            ears = Ears(lambda _: None, lambda _: None, grown, print)
            queue = Queue(engine, pictures, ears, Engine(engine.choice), hand)
            queue.start()
            number, found = itertools.count(1), []
            for k in range(ROUNDS + 1):
                refined.clear()
                text = document.edited(_turned(light, start, 2 * k))
                standing = replace(stand(document.checked(text), first), traced=True)
                frames = pictures.wanted(standing.layout)
                begun, spent = time.perf_counter(), _spent(engine)
                queue.show(Asked(next(number), standing, frames))
                assert refined.wait(PATIENCE_S)
                found.append((time.perf_counter() - begun, _spent(engine) - spent))
                _drag(hand, document, standing, _turned(light, start, 2 * k + 1))
            queue.end()
        wall, cpu = (statistics.median(each) for each in zip(*found[1:], strict=True))
        said = ", ".join(f"{a:.2f}/{b:.2f}" for a, b in found[1:])
        print(f"{kind.__name__}: refined after {wall:.2f} s, CPU {cpu:.2f} s ({said})")
    print(f"{engine.name}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")


def _drag(hand: Hand, document: Document, standing: Standing, keys: dict[str, float]) -> None:
    """Try a place again and again, as a hand does that moves."""
    end = time.perf_counter() + DRAG_S
    while time.perf_counter() < end:
        hand.moves()
        Trials().run("bench", document, standing, keys, True)


def _spent(engine: Engine) -> float:
    """CPU time [s] of the tracer that refines; 0 before it runs."""
    if engine.process_id is None:
        return 0.0
    told = Path(f"/proc/{engine.process_id}/stat").read_text().rpartition(")")[2].split()
    return (int(told[11]) + int(told[12])) / TICKS


if __name__ == "__main__":
    main(*sys.argv[1:3])
