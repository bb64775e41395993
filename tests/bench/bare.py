"""Noise of a look against a bare script's: the tracer's stock path integrator, all lights at once.

`python -m tests.bench.bare` prints Markdown, with `--json` JSON; `--width`, `--rounds`, `--scene`
change the job. Per case one process, in which the rivals take turns; time is CPU time. Among them
is our own tracer with panels found by chance and points drawn on what a lip hides: `by_chance`.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import numpy as np

from render.layout import Layout, place
from render.layout.geometry import facing, unit
from render.layout.panels import SILVER_ROUGHNESS, USUAL_REFLECTANCE
from render.layout.placed import Sheet
from render.plan.changes.settings import Setting, changed
from render.scenefile import load_scene
from render.trace import choose_engine
from render.trace.choice import worker_environment
from render.trace.frames import STRAND_SHARE
from render.trace.stage import LUMINANCE, Stage, stage_of

CHIN = "violin-chin-panel"
SCENE, WIDTH_PX, ROUNDS, SAMPLES = "violin-two-lights", 200, 8, 16
# Reflectance of walls, ceiling and floor; a room of any other name is as the scene paints it.
ROOMS = {"dark": 0.04, "white": 0.85, "board": 0.04}
BOARD = "board"  # with a silver board on the shadow side that mirrors the key on the face
BOARD_M, BOARD_SIZE_M = (0.8, 1.2, 0.35), (0.9, 1.4)  # its middle; width and height
PAINTED = ("walls", "ceiling", "floor")
DRESSES = {"hair": "real", "surfaces": "plain"}
CASES = ("dark/hair", "dark/surfaces", "white/hair", "white/surfaces")
# Of the frame, rows and columns: where the bundled sitters' faces and the paper beside them are.
MORE = (("board/surfaces", SCENE), ("own/surfaces", CHIN), ("own/hair", CHIN))  # with silver
PARTS = {"face": (0.30, 0.567, 0.375, 0.646), "backdrop": (0.033, 0.133, 0.042, 0.958)}
# The bare script as most would write it; and with the samples that our first vertices have, which
# make it a little wrong in pale rooms (see DEVELOPERS.md).
RIVALS = {"stock": False, "stock_multijitter": True}
ROULETTE_FROM = 5  # the stock path's default

Work = Callable[[int], Any]


def main() -> None:
    """All cases, or one of them in a process of its own."""
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--json", action="store_true")
    told.add_argument("--scene", default=SCENE)
    told.add_argument("--width", type=int, default=WIDTH_PX)
    told.add_argument("--rounds", type=int, default=ROUNDS)
    told.add_argument(
        "--case", help="such as dark/hair, or own/hair: the room as the scene paints it"
    )
    told.add_argument("--variant", help="of the tracer; the case is then run in this process")
    asked = told.parse_args()
    if asked.variant:
        print(json.dumps(_compared(asked)))
        return
    cases = [(case, asked.scene) for case in ([asked.case] if asked.case else CASES)]
    cases += () if asked.case else MORE
    figures = {
        case if scene == SCENE else f"{case} of {scene}": case_figures(
            case, scene, asked.width, asked.rounds
        )
        for case, scene in cases
    }
    print(json.dumps(figures, indent=1) if asked.json else _table(figures))


def bare_script() -> dict[str, float]:
    """Figures of all cases for the whole bench."""
    found: dict[str, float] = {}
    for case in CASES:
        name = case.replace("/", "_")
        found |= {f"{name}_{key}": value for key, value in case_figures(case).items()}
    return found


def case_figures(
    case: str, scene: str = SCENE, width: int = WIDTH_PX, rounds: int = ROUNDS
) -> dict[str, float]:
    """Of one case, from a process of its own: see `_compared`."""
    choice = choose_engine("llvm")  # CPU time says nothing of a graphics card
    told = ["--case", case, "--scene", scene, "--width", str(width), "--rounds", str(rounds)]
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.bare", "--variant", choice.variant, *told],
        env=worker_environment(choice),
        check=True,
        stdout=subprocess.PIPE,
    )
    found: dict[str, float] = json.loads(done.stdout)
    return found


def _compared(asked: argparse.Namespace) -> dict[str, float]:
    """Samples per CPU second of each; relative variance of a sample, the median pixel's, of the
    mix at the scene's powers; and ours x time over theirs x time."""
    import mitsuba as mi

    mi.set_variant(asked.variant)
    room, dress = asked.case.split("/")
    paint = [Setting(f"room.{part}", ROOMS[room]) for part in PAINTED if room in ROOMS]
    layout = place(changed(load_scene(asked.scene), paint))
    if room == BOARD:
        layout = replace(layout, sheets=(*layout.sheets, _board(layout)))
    stage = replace(stage_of(layout, DRESSES[dress]), strand_share=STRAND_SHARE["draft"])  # type: ignore[arg-type]
    size = asked.width, asked.width * 5 // 4
    works = _works(layout, stage, size)
    times: dict[str, list[float]] = {name: [] for name in works}
    pictures: dict[str, list[Any]] = {name: [] for name in works}
    for turn in range(asked.rounds + 1):
        for name, work in works.items():
            start = time.process_time()
            picture = work(turn)
            if turn:  # the first of each compiles
                times[name].append(time.process_time() - start)
                pictures[name].append(picture)
    paths = size[0] * size[1] * SAMPLES
    found = {f"{name}_samples_per_s": paths / float(np.median(t)) for name, t in times.items()}
    for part, (top, bottom, left, right) in PARTS.items():
        rows = slice(int(top * size[1]), int(bottom * size[1]))
        pixels = (slice(None), rows, slice(int(left * size[0]), int(right * size[0])))
        noise = {name: _noise(np.array(each)[pixels]) for name, each in pictures.items()}
        found |= {f"{name}_variance_{part}": value for name, value in noise.items()}
        cost = {name: noise[name] / found[f"{name}_samples_per_s"] for name in works}
        rivals = [name for name in works if name != "layered"]
        found |= {f"to_{rival}_{part}": cost["layered"] / cost[rival] for rival in rivals}
    return found


def _board(layout: Layout) -> Sheet:
    """Silver on both sides, turned so that it mirrors the key on the face."""
    place_m, face_m = np.array(BOARD_M), np.array([0.0, BOARD_M[1], 0.0])
    ways = [unit(there - place_m) for there in (layout.fronts[layout.key].centre_m, face_m)]
    right, up = facing(unit(ways[0] + ways[1]), 0.0)
    pale = (USUAL_REFLECTANCE["silver"],) * 3
    rough = SILVER_ROUGHNESS, SILVER_ROUGHNESS
    return Sheet(BOARD, "panel", place_m, right, up, *BOARD_SIZE_M, pale, pale, *rough)


def _noise(pictures: Any) -> float:
    """Relative variance of one sample, median over the pixels: bright specks do not decide."""
    return float(np.median(pictures.var(0, ddof=1) / pictures.mean(0) ** 2) * SAMPLES)


def _works(layout: Layout, stage: Stage, size: tuple[int, int]) -> dict[str, Work]:
    """What renders a picture of the whole mix with a seed, ours and the bare scripts."""
    import drjit as dr
    import mitsuba as mi

    from render.trace import jobs
    from render.trace.camera import sensor
    from render.trace.fronts import shaped_emission
    from render.trace.nodes import scene_nodes

    view, powers = layout.view, {f.name: f.luminous_energy_lm_s for f in layout.fronts}
    assert view is not None
    gains = np.array([powers[name] for name in stage.emitting])

    def at_power(front: Any) -> Any:
        made = shaped_emission(front)
        made.peak = dr.opaque(mi.Float, float(made.peak[0]) * powers[front.name])
        return made

    nodes = scene_nodes(stage, at_power)
    path = {"type": "path", "max_depth": stage.max_depth, "rr_depth": ROULETTE_FROM}
    scene: Any = mi.load_dict(nodes | {"integrator": path}, optimize=False)

    def ours(seed: int) -> Any:
        layers = jobs.chunk(stage, "bench", view, size, SAMPLES, seed)
        return np.tensordot(gains, layers, 1) @ np.array(LUMINANCE)

    def bare(evenly: bool) -> Work:
        lens = sensor(view, size, SAMPLES, evenly)

        def picture(seed: int) -> Any:
            film: Any = mi.render(scene, sensor=lens, spp=SAMPLES, seed=seed)
            return np.array(film)[..., :3] @ np.array(LUMINANCE)

        return picture

    def by_chance(seed: int) -> Any:
        with _by_chance(jobs.scene_of(stage, "bench")):
            return ours(seed)

    rivals = {"layered": ours, "by_chance": by_chance}
    return rivals | {name: bare(evenly) for name, evenly in RIVALS.items()}


@contextmanager
def _by_chance(scene: Any) -> Iterator[None]:
    """A built set as if it had no panels that are looked for, and no lips that are seen past."""
    import drjit as dr
    import mitsuba as mi

    integrator, lights = scene.integrator(), scene.emitters()
    panels, outlines = integrator.panels, [light.outline for light in lights]
    none = dr.opaque(mi.Float, 0.0)
    try:
        integrator.panels = None
        for light in lights:
            if hasattr(light.outline, "lip"):
                light.outline = replace(light.outline, lip=none)
        yield
    finally:
        integrator.panels = panels
        for light, outline in zip(lights, outlines, strict=True):
            light.outline = outline


def _table(figures: dict[str, dict[str, float]]) -> str:
    """Markdown, a row per case."""
    names = list(next(iter(figures.values())))
    rows = ["| figure | " + " | ".join(figures) + " |", "|---|" + "---|" * len(figures)]
    for name in names:
        values = (figures[case][name] for case in figures)
        rows.append(f"| {name} | " + " | ".join(f"{value:.3g}" for value in values) + " |")
    return "\n".join(rows)


if __name__ == "__main__":
    main()
