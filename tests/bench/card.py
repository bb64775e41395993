"""What a graphics card or the processor traces: `python -m tests.bench.card [ENGINE]`.

Light paths a second of chunks of 16 samples by lights, hair and size, with the memory that they
take; pictures a second of a lamp that is dragged. With `--commands` also whole looks, each first
with an empty cache. Wall time; of each figure the median, compiling left out.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from render.emission import Front
from render.layout import Layout
from render.page.document import open_document
from render.page.pictures import Pictures, Wanted
from render.page.standing import stand
from render.scenefile.read import scene_tables
from render.trace import Engine, FrameStore
from render.trace.frames import in_quality
from render.trace.stage import Stage, stage_of

SCENE = "violin-two-lights"
SIZES = ((240, 300), (480, 600), (960, 1200), (1920, 2400))
LIGHTS = (1, 2, 5)
SAMPLES, CHUNKS, DRAGGED, STEP_DEG = 16, 3, 40, 1.5
LOOKS = (("draft", 600), ("proof", 1200), ("final", 1200), ("final", 2400))


def main() -> None:
    parser = argparse.ArgumentParser(description="Paths a second, memory, a dragged lamp.")
    parser.add_argument("engine", nargs="?", default="auto")
    parser.add_argument("--largest", type=int, default=2400, help="longer side at most [px]")
    parser.add_argument("--commands", action="store_true")
    told = parser.parse_args()
    document = open_document(scene_tables(SCENE)[0], None)
    layout = stand(document.checked(document.text)).layout
    sizes = tuple(size for size in SIZES if size[1] <= told.largest)
    engine = Engine(told.engine)
    print(f"{engine.name}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}\n")
    print("| lights | hair | size | million paths a second | memory [MiB] |\n|---|---|---|---|---|")
    for lights in LIGHTS:
        for hair in (True, False):
            stage = _stage(layout, lights, hair, engine.name)
            _throughput(layout, stage, hair, sizes if lights == 2 else sizes[:2], engine.choice)
    _drag(layout, engine)
    if told.commands:
        _commands(engine.name, told.largest)


def _stage(layout: Layout, lights: int, hair: bool, name: str) -> Stage:
    """The scene with its key in so many places about the sitter, as a draft shows it."""
    key, body = layout.fronts[0], layout.body
    assert body is not None
    fronts = tuple(replace(_turned(key, 40.0 * k), name=f"key {k}") for k in range(lights))
    made = replace(layout, fronts=fronts, body=body if hair else replace(body, strands=()))
    return in_quality(stage_of(made, "real"), "draft", name)


def _turned(front: Front, degrees: float) -> Front:
    """Led round the sitter about the upright."""
    cosine, sine = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[cosine, 0, sine], [0, 1, 0], [-sine, 0, cosine]])
    return replace(
        front, centre_m=turn @ front.centre_m, right=turn @ front.right, up=turn @ front.up
    )


def _throughput(
    layout: Layout, stage: Stage, hair: bool, sizes: tuple[tuple[int, int], ...], choice: Any
) -> None:
    """Rows of the table; each set has an engine of its own, so that its memory is its own."""
    with Engine(choice) as engine:
        for size in sizes:
            walls = _chunks(engine, stage, {"view": layout.view, "size_px": size})
            rate = size[0] * size[1] * SAMPLES / statistics.median(walls) / 1e6
            memory = _memory_mib(engine)
            print(
                f"| {len(stage.emitting)} | {'yes' if hair else 'no'} | {size[0]} x {size[1]} "
                f"| {rate:.1f} | {memory} |",
                flush=True,
            )


def _chunks(engine: Engine, stage: Stage, told: dict[str, Any]) -> list[float]:
    """Wall time of each [s]; the first two build the set and write the steps down."""
    walls = []
    for k in range(2 + CHUNKS):
        start = time.perf_counter()
        engine.call("chunk", stage, told | {"samples": SAMPLES, "seed": k})
        walls.append(time.perf_counter() - start)
    return walls[2:]


def _memory_mib(engine: Engine) -> int:
    """In use on the card, which keeps what it once took; of the processor, the worker's most."""
    if engine.name == "cuda":
        asked = ["nvidia-smi", "--query-gpu=memory.used", "--format=csv,noheader,nounits"]
        return int(subprocess.run(asked, capture_output=True, text=True).stdout.split()[0])
    status = Path(f"/proc/{engine.process_id}/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) // 1024


def _drag(layout: Layout, engine: Engine) -> None:
    """Pictures of 480 x 600 with hair, each of a lamp that has moved on: named, drawn, here."""
    with tempfile.TemporaryDirectory() as folder, engine:
        pictures, walls = Pictures(FrameStore(Path(folder)), engine.name), []
        for k in range(DRAGGED):
            moved = replace(
                layout, fronts=(_turned(layout.fronts[0], STEP_DEG * k), *layout.fronts[1:])
            )
            start = time.perf_counter()
            wanted = pictures.wanted(moved)
            assert isinstance(wanted, Wanted)
            pictures._draw(wanted, (layout.fronts[0].name,), engine, 1)
            walls.append(time.perf_counter() - start)
    walls = walls[len(walls) // 4 :]
    rate = len(walls) / sum(walls)
    print(
        f"\na dragged lamp, 480 x 600 with hair: {rate:.1f} pictures a second; a picture "
        f"{1000 * statistics.median(walls):.0f} ms, the longest {1000 * max(walls):.0f} ms",
        flush=True,
    )


def _commands(name: str, largest: int) -> None:
    """Whole looks: nothing kept at all, then the sitter and the kernels kept."""
    print("\n| look | nothing kept | sitter and kernels kept |\n|---|---|---|")
    for quality, size in LOOKS:
        if size <= largest:
            with tempfile.TemporaryDirectory() as folder:
                walls = [_look(folder, turn, (quality, str(size), name)) for turn in range(2)]
            print(f"| {quality}, {size} px | {walls[0]:.1f} s | {walls[1]:.1f} s |", flush=True)


def _look(folder: str, turn: int, asked: tuple[str, str, str]) -> float:
    """Wall time [s] of a whole command that finds no frames, but what is left of the one before."""
    env = os.environ | {
        "TENTHSTOP_CACHE": f"{folder}/cache",
        "TENTHSTOP_FRAMES": f"{folder}/frames {turn}",
        "OPTIX_CACHE_PATH": f"{folder}/optix",
    }
    quality, size, name = asked
    words = ["look", SCENE, "--quality", quality, "--size", size, "--engine", name]
    command = [sys.executable, "-m", "render", *words, "--out", f"{folder}/look.png"]
    start = time.perf_counter()
    subprocess.run(command, env=env, check=True, capture_output=True)
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
