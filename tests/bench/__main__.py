"""Measure what DEVELOPERS.md states about speed, each pair in one run.

`python -m tests.bench` prints a Markdown table; `python -m tests.bench --json` prints JSON.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from render.folders import data_folder
from render.layout import Layout, place
from render.predict import Obstacles, aims, direct_exposure
from render.scenefile import load_scene
from render.trace import Engine, FrameStore, choose_engine, light_frames
from tests.bench.bare import bare_script
from tests.bench.crews import crews
from tests.bench.emitters import emitters
from tests.bench.people import sitters
from tests.bench.plans import plans

SCENE = "violin-two-lights"
STYLES = ("bob", "long", "curls")  # of the sitters that are measured; the last two cost most
DRAFT_PX = (480, 600)
REPEATS = 5


def best(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Least wall time of a few runs [s]: the one that others disturbed least."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def closed_form(layout: Layout) -> dict[str, float]:
    """Readings of 12 points by 2 lights, each aimed at its light, with shadow rays."""
    points = layout.points[:12]
    places = np.array([point.position_m + 2e-3 * point.normal for point in points])
    axes = np.stack([aims(places, front) for front in layout.fronts], 1)
    built = time.perf_counter()
    obstacles = Obstacles.of(layout)
    built = time.perf_counter() - built
    read = best(lambda: direct_exposure(layout, places, axes, "flat", obstacles=obstacles))
    return {"closed_form_12_points_2_lights_s": read, "closed_form_obstacles_once_s": built}


def frames(layout: Layout) -> dict[str, float]:
    """Draft with hair, then a power change, then one light moved; one worker, fresh store."""
    key, hair = layout.fronts
    louder = replace(key, luminous_energy_lm_s=2e3)
    moved = replace(key, centre_m=key.centre_m + [-0.05, 0.0, 0.0])
    found: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder, Engine() as engine:
        store = FrameStore(Path(folder))
        # The first frame of a worker compiles; it is thrown away so that the rest is warm.
        light_frames(layout, 4, DRAFT_PX, FrameStore(Path(folder) / "first"), engine)
        for name, changed in (
            ("draft_480x600_two_lights_s", layout),
            ("power_change_s", replace(layout, fronts=(louder, hair))),
            ("key_moved_s", replace(layout, fronts=(moved, hair))),
        ):
            kept = len(store.entries())
            start = time.perf_counter()
            light_frames(changed, "draft", DRAFT_PX, store, engine)
            found[name] = time.perf_counter() - start
            found[name.removesuffix("_s") + "_new_frames"] = len(store.entries()) - kept
    return found


def start_up() -> dict[str, float]:
    """The whole command from the shell, 480x600 draft: compiled kernels kept or not."""
    found = {}
    for name, kept in (("look_cold_s", False), ("look_warm_s", True), ("look_stored_s", True)):
        with tempfile.TemporaryDirectory() as folder:
            environment = dict(os.environ)
            if not kept:
                # A new cache without kernels or frames, but with the sitter already built.
                environment["TENTHSTOP_CACHE"] = folder
                command(environment, folder, "meter", SCENE, "--direct")
            elif name == "look_warm_s":
                command(environment, folder, "doctor", "--clear")
            arguments = ("look", SCENE, "--quality", "draft", "--size", "600", "--out", "look.png")
            found[name] = command(environment, folder, *arguments)
    found["help_s"] = best(lambda: command(dict(os.environ), ".", "--help"), 3)
    return found


def command(environment: dict[str, str], folder: str, *arguments: str) -> float:
    """Wall time of one tenthstop command [s]."""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "render", *arguments],
        cwd=folder,
        env=environment | {"PYTHONPATH": str(data_folder("scenes").parent)},
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.perf_counter() - start


def main() -> None:
    """Run everything and print one report."""
    layout = place(load_scene(SCENE))
    figures = closed_form(layout) | bare_script() | frames(layout) | start_up() | sitters(STYLES)
    figures |= emitters() | plans() | crews(layout)
    if "--json" in sys.argv:
        print(json.dumps(figures, indent=1))
        return
    print(f"{platform.machine()}, {os.cpu_count()} cores, {choose_engine().name} engine, {SCENE}\n")
    print("| figure | value |\n|---|---|")
    for name, value in figures.items():
        print(f"| {name} | {value:.3g} |")


if __name__ == "__main__":
    main()
