"""A series of one key's values against a look of its own for each value.

`python -m tests.bench.separate [--quick]` prints JSON: whole commands from the shell, CPU times.
The looks run twice: each with nothing kept, then one after the other on one store.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
from pathlib import Path
from typing import Any

from render.folders import data_folder
from render.scenefile import load_scene
from render.trace import FrameStore
from tests.bench.figures import Figure, Part, Told
from tests.bench.shell import command

SCENE, LIGHT, KEY = "violin-two-lights", "key", "azimuth_deg"
VALUES, QUICK_VALUES = (-60, -50, -40, -30, -20), (-60, -40, -20)
LONG_PX, QUICK_PX = 480, 240


def measured(values: tuple[int, ...], long_px: int) -> dict[str, Any]:
    """CPU times [s] of the three ways, and how many light frames each traced."""
    size = ["--quality", "draft", "--size", str(long_px), "--engine", "llvm"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        looks = [["look", str(_scene(folder, v)), "--out", f"{-v}.png", *size] for v in values]
        told = ",".join(map(str, values))
        vary = ["--vary", f"light.{LIGHT}.{KEY}={told}", "--direct", "--out", "sheet.png"]
        series = ["series", SCENE, *vary, *size]
        command(looks[0], folder, folder / "first")  # makes the sitter, compiles
        command(series, folder, folder / "first")
        found: dict[str, Any] = {"cells": len(values), "series_s": 0.0, "cold_s": 0.0}
        found["series_s"], _ = command(series, folder, folder / "series")
        found["cold_s"] = found["shared_s"] = 0.0
        for k, line in enumerate(looks):  # in turn, so that all share good and bad moments
            found["cold_s"] += command(line, folder, folder / f"cold-{k}")[0]
            found["shared_s"] += command(line, folder, folder / "shared")[0]
        again, _ = command(series, folder, folder / "series-again")
        found["series_s"] = min(found["series_s"], again)
        found["series_frames"] = _frames(folder / "series")
        found["shared_frames"] = _frames(folder / "shared")
        found["cold_frames"] = sum(_frames(folder / f"cold-{k}") for k in range(len(looks)))
    found["least_frames"] = len(values) + len(load_scene(SCENE).scene.light) - 1
    return found


def _scene(folder: Path, value: int) -> Path:
    """The bundled scene with the key elsewhere, in a file of its own."""
    text = (data_folder("scenes") / f"{SCENE}.toml").read_text(encoding="utf-8")
    head, tail = text.split(f"[light.{LIGHT}]", 1)
    tail = re.sub(rf"(?m)^{KEY} = .*$", f"{KEY} = {value}", tail, count=1)
    file = folder / f"scene{-value}.toml"
    file.write_text(f"{head}[light.{LIGHT}]{tail}", encoding="utf-8")
    return file


def _frames(folder: Path) -> int:
    return len(FrameStore(folder).entries())


def _judged(found: Any) -> Told:
    cells, series_s = found["cells"], found["series_s"]
    told = [
        Figure(f"{cells} looks with {what}, over the series", found[key] / series_s, "times", **aim)
        for what, key, aim in (
            ("nothing kept", "cold_s", {"at_least": 1.0}),
            ("a store shared", "shared_s", {"at_least": 1.0}),
        )
    ]
    told += [
        Figure("light frames of the series", found["series_frames"], at_most=found["least_frames"]),
        Figure("of the looks with a store shared", found["shared_frames"]),
        Figure("of the looks with nothing kept", found["cold_frames"]),
        Figure("series, CPU", series_s, "s"),
        Figure("a look with nothing kept, CPU", found["cold_s"] / cells, "s"),
        Figure("a look with a store shared, CPU", found["shared_s"] / cells, "s"),
    ]
    note = "Whole commands; kernels and the sitter are kept for all. Least: cells + lights - 1."
    return Told(told, [note])


PART = Part(
    "separate",
    "A series of one key's values against a separate look for each value.",
    lambda asked: ["--quick"] if asked.quick else [],
    _judged,
)


if __name__ == "__main__":
    small = "--quick" in sys.argv
    print(json.dumps(measured(*((QUICK_VALUES, QUICK_PX) if small else (VALUES, LONG_PX)))))
