"""Commands that are killed, what they leave behind, and what it must look like."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from render.scenefile import load_scene

STOOL = """\
# Two lamps and an empty stool, so that light is traced in a second.
title = "Two lamps and a stool"
[camera]
distance_m = 2.0
[backdrop]
gap_m = 1.0
[light.key]
flash = "monobloc-400"
size_cm = [20, 20]
power = "1/4"        # first guess
azimuth_deg = -30
distance_m = 0.8
[light.fill]
luminous_energy_lm_s = 100
size_cm = [20, 20]
azimuth_deg = 40
distance_m = 1.5
[point.stool]
position_m = [0, 1.2, 0]
facing = "camera"
[wanted]
face = { point = "stool", light = "key", f_number = 8 }
"""
RECIPE = """\
look = "look.png"
out = "made.png"
[[element]]
file = "dust.png"
turn_deg = 20
scale = 0.8
"""
CODES = 2  # of 255 that pictures of the same light may differ by
SIDE = 1500  # pixels of the pictures that are combined


@dataclass(frozen=True, slots=True)
class Job:
    """A command, the files that it makes or changes, and how its folder is laid out."""

    name: str
    words: tuple[str, ...]  # after `python -m`
    results: tuple[str, ...]
    lay: Callable[[Path], None]


@dataclass(frozen=True, slots=True)
class Pixels:
    """A picture."""

    size: tuple[int, ...]
    codes: bytes


def _scene(folder: Path) -> None:
    (folder / "stool.toml").write_text(STOOL)


def _pictures(folder: Path) -> None:
    (folder / "made.toml").write_text(RECIPE)
    codes = np.random.default_rng(1).integers(0, 255, (SIDE, SIDE, 3), np.uint8)
    Image.fromarray(codes).save(folder / "look.png")
    Image.fromarray(codes // 4).save(folder / "dust.png")


_TRACED = ("--quality", "96", "--size", "160")
JOBS = (
    Job("look", ("render", "look", "stool.toml", *_TRACED, "--out", "a.png"), ("a.png",), _scene),
    Job(
        "series",
        ("render", "series", "stool.toml", "--vary", "light.key.distance_m=0.7,0.9", "--direct")
        + ("--quality", "32", "--size", "96", "--out", "s.png"),
        ("s.png",),
        _scene,
    ),
    Job(
        "balance --write",
        ("render", "balance", "stool.toml", "--direct", "--write"),
        ("stool.toml",),
        _scene,
    ),
    Job("combine", ("render", "combine", "made.toml"), ("made.png",), _pictures),
    Job("save", ("tests.faults.saving", "stool.toml"), ("stool.toml",), _scene),
)


def command(job: Job) -> list[str]:
    """The command line of a job, to be run in its folder."""
    return [sys.executable, "-m", *job.words]


def contents(file: Path) -> object:
    """What a file holds, read to its end; None where there is none. Raises for a broken one."""
    if not file.exists():
        return None
    if file.suffix == ".png":
        with Image.open(file) as image:
            codes = np.asarray(image)
            return Pixels(codes.shape, codes.tobytes())
    if file.suffix == ".npz":
        with np.load(file, allow_pickle=False) as stored:
            return {name: stored[name].tobytes() for name in stored.files}
    if file.suffix == ".toml":
        load_scene(file)
    return file.read_bytes()


def alike(found: object, right: object) -> bool:
    """Whether two contents are the same, pictures to a few codes.

    A light that is traced without those beside it, because theirs is finished, draws other random
    numbers: as sure, but not the same. These sets are all but free of noise.
    """
    if isinstance(found, Pixels) and isinstance(right, Pixels) and found.size == right.size:
        sides = (np.frombuffer(each.codes, np.uint8).astype(int) for each in (found, right))
        return int(np.abs(np.subtract(*sides)).max()) <= CODES
    return found == right


def chunks_kept(frames: Path) -> dict[str, int]:
    """Chunks in every stored frame; raises for a frame that cannot be read."""
    found = {}
    for file in frames.glob("[!.]*.npz"):  # drafts are hidden
        with np.load(file, allow_pickle=False) as stored:
            for name in stored.files:
                stored[name].sum()
            found[file.name] = int(stored["chunks"]) if "chunks" in stored.files else 0
    return found
