"""How time and memory of a look grow with lights, hair, pixels and samples.

`python -m tests.bench.growth [--quick]` prints JSON. Every point has a process of its own, since
peak memory is a process's: it traces once to compile, then a few times with other light; the least
CPU time of its tracer counts, and the peak memory of both. The exponent p of t = c n^p is fitted to
all points of an axis; 1 is in proportion.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from render.layout import Layout, place
from render.plan.changes.settings import Setting, changed
from render.scenefile import load_scene
from render.trace import Engine, FrameStore, light_frames
from render.trace.stage import thinned
from tests.bench.clock import peaks_mib, spent_by
from tests.bench.figures import Figure, Part, Told

SCENE = "violin-two-lights"
USUAL = {"lights": 2, "strands": 70_000, "pixels": 240 * 300, "samples": 16}
STYLES = ("close crop", "crop", "bob", "curls")  # a set has one sitter: other heads in turn
ASPECT, REPEATS, STEP_M = 1.25, 3, 1e-4


class Axis(NamedTuple):
    """What grows, and how fast time and memory may at most."""

    of: str
    points: tuple[int | str, ...]
    time: float  # exponent at most
    memory: float
    why: str


# A tenth over what is expected passes for noise.
AXES = (
    Axis("lights", (1, 2, 4, 8), 1.1, 0.6, "all share their paths, each adds its shadow rays"),
    Axis("strands", (8_750, 17_500, 35_000, 70_000), 0.6, 0.8, "rays search a tree"),
    Axis("pixels", (10_000, 40_000, 160_000, 640_000), 1.1, 0.8, "each has its own paths"),
    Axis("samples", (16, 32, 64, 128), 1.1, 0.1, "chunks are added up, one at a time"),
    Axis("segments", STYLES, 0.6, 0.8, "other styles, again one tree"),
)
QUICK = {
    "lights": (1, 2, 4, 8),
    "strands": (8_750, 17_500, 35_000, 70_000),
    "pixels": (10_000, 20_000, 40_000, 80_000),
}
Point = dict[str, Any]


def layout_of(point: Point, turn: int) -> Layout:
    """The bundled scene with so many lights and strands; each turn moves all lights a little."""
    setup = load_scene(SCENE)
    if "segments" in point:
        setup = changed(setup, [Setting("sitter.hair", point["segments"])])
    found = place(setup)
    key, *_ = found.fronts
    fronts = []
    for k in range(point["lights"]):
        like = found.fronts[k] if k < len(found.fronts) else key
        aside = np.array([-0.12 * (k - 1) if k > 1 else 0.0, 0.0, STEP_M * turn])
        fronts.append(replace(like, name=f"light-{k}", centre_m=like.centre_m + aside))
    assert found.body is not None
    share = point["strands"] / USUAL["strands"]
    strands = tuple(thinned(each, share) for each in found.body.strands)
    return replace(found, fronts=tuple(fronts), body=replace(found.body, strands=strands))


def measured_point(point: Point, repeats: int) -> dict[str, float]:
    """Least CPU time [s] of the tracer for new frames of all lights; peak memory [MiB] of both."""
    width = round((point["pixels"] / ASPECT) ** 0.5)
    size = width, round(width * ASPECT)
    times = []
    with tempfile.TemporaryDirectory() as folder, Engine("llvm") as engine:
        store = FrameStore(Path(folder))
        for turn in range(repeats + 1):
            layout = layout_of(point, turn)
            before = spent_by(engine.process_id) if turn else 0.0
            light_frames(layout, point["samples"], size, store, engine)
            times.append(spent_by(engine.process_id) - before)
        own, tracer = peaks_mib()
    assert layout.body is not None
    segments = sum(len(each.points) * (each.points.shape[1] - 1) for each in layout.body.strands)
    found = {"tracer_s": min(times[1:]), "own_mib": own, "tracer_mib": tracer}
    return found | {"segments": segments}


def fitted(at: list[float], values: list[float]) -> float:
    """Exponent of a power law through all points (least squares of the logarithms)."""
    return float(np.polyfit(np.log(at), np.log(values), 1)[0])


def measured(quick: bool) -> list[dict[str, Any]]:
    """All axes, each point in a process of its own."""
    return [
        _axis(axis, QUICK.get(axis.of, axis.points) if quick else axis.points, quick)
        for axis in AXES
    ]


def _axis(axis: Axis, values: tuple[int | str, ...], quick: bool) -> dict[str, Any]:
    points = [_in_process(USUAL | {axis.of: value}, quick) for value in values]
    for point, value in zip(points, values, strict=True):
        point["at"] = value if isinstance(value, int) else point["segments"]
    at = [point["at"] for point in points]
    time = fitted(at, [point["tracer_s"] for point in points])
    memory = fitted(at, [point["tracer_mib"] for point in points])
    good = time <= axis.time and memory <= axis.memory
    return {
        "of": axis.of,
        "points": points,
        "time": {"exponent": time, "at_most": axis.time},
        "memory": {"exponent": memory, "at_most": axis.memory},
        "verdict": f"{'grows as it should' if good else 'grows faster than it should'}: {axis.why}",
    }


def _in_process(point: Point, quick: bool) -> dict[str, float]:
    told = ["--point", json.dumps(point), *(["--quick"] if quick else [])]
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.growth", *told], check=True, stdout=subprocess.PIPE
    )
    print(point, done.stdout.decode().strip(), file=sys.stderr)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def _judged(found: Any) -> Told:
    told, notes = [], []
    for axis in found:
        for what in ("time", "memory"):
            fit = axis[what]
            words = f"tracer's {what} with {axis['of']}: exponent"
            told.append(Figure(words, fit["exponent"], at_most=fit["at_most"]))
        points = "; ".join(
            f"{p['at']:.0f}: {p['tracer_s']:.2f} s, "
            f"{p['tracer_mib']:.0f} and {p['own_mib']:.0f} MiB"
            for p in axis["points"]
        )
        notes += ["", f"With {axis['of']} it {axis['verdict']}. {points}."]
    notes.append("")
    notes.append(
        "CPU time and peak memory of the tracer, then peak memory of the command. A set has one "
        "sitter: instead of more of them, four styles of hair by their segments."
    )
    return Told(told, notes)


PART = Part(
    "growth",
    "CPU time and peak memory of a look as lights, strands of hair, pixels and samples grow: "
    "exponents over four points each.",
    lambda asked: ["--quick"] if asked.quick else [],
    _judged,
)


def main() -> None:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--quick", action="store_true")
    told.add_argument("--point", help="one point as JSON, in this process")
    given = told.parse_args()
    if given.point:
        print(json.dumps(measured_point(json.loads(given.point), 2 if given.quick else REPEATS)))
        return
    print(json.dumps(measured(given.quick)))


if __name__ == "__main__":
    main()
