"""The parts of the bench: what each is asked, with which arguments, and the aims of its figures.

Aims are those that the project set itself before it measured; the rest is measured without one.
"""

from __future__ import annotations

import importlib.util
import re
import shutil
from typing import Any

from tests.bench import cycles, growth, rebalance, scaling, separate, startup
from tests.bench.figures import Asked, Figure, Part, Told

ROOMS = {"dark": 0.1, "white": 1 / 3}  # of a stock script's variance x time, at most
OUTSIDE = 0.25  # of an outside renderer's variance x time
REFRESH_MS = 1000 / 60  # a screen's
FIRST_PICTURE_S = {"cuda": 0.06, "llvm": 1.0}


def _bare(found: Any) -> Told:
    told = []
    for case, each in found.items():
        most = ROOMS.get(case.split("/")[0])
        for name, value in each.items():
            if name.startswith("to_stock") and "multijitter" not in name:
                part = name.rsplit("_", 1)[-1]
                told.append(Figure(f"{case}, {part}: ours over theirs", value, at_most=most))
        told += [
            Figure(f"{case}, {name.rsplit('_', 1)[-1]}: over theirs with multijitter", value)
            for name, value in each.items()
            if name.startswith("to_stock_multijitter")
        ]
    return Told(told)


def _cycles(found: Any) -> Told:
    told, notes = [], []
    for case, each in found.items():
        for part in ("face", "backdrop"):
            ratio = each[f"{part}_variance_x_time_ratio"]
            told.append(Figure(f"{case}, {part}: ours over theirs", ratio, at_most=OUTSIDE))
        apart = each["patches_apart"]
        notes.append(f"{case}: {apart:.0f} of {each['patches']:.0f} patches show other light.")
    if any("gloss" in case for case in found):
        notes.append("Glossy skin is another model with them: other light there is no fault.")
    return Told(told, notes)


def _crews(found: Any) -> Told:
    return Told(
        [
            Figure(name.replace("_", " "), value, "times")
            for name, value in found.items()
            if name.endswith(("speedup", "speedup_by_processor_time"))
        ],
        ["Frames and readings of all were the same bits, else this part had failed."],
    )


def _plain(found: Any) -> Told:
    """Figures whose names end in their units."""
    units = {"_s": "s", "_mib": "MiB"}
    told = []
    for name, value in found.items():
        end = next((end for end in units if name.endswith(end)), "")
        words = name.removesuffix(end).replace("_", " ")
        told.append(Figure(words, value, units.get(end, "")))
    return Told(told)


def _mixing(found: Any) -> Told:
    told = []
    for row in found:
        what = f"{row['what']} {row['width']} x {row['height']}, {row['way']}"
        most = REFRESH_MS if row["what"] == "whole refresh" else None
        told.append(Figure(f"{what}, median", row["median_ms"], "ms", at_most=most))
    return Told(told)


def _no_browser(_: Asked) -> str:
    if importlib.util.find_spec("playwright") is None:
        return "needs a browser: playwright is not installed"
    return "" if shutil.which("chromium") else "needs a browser: no chromium on the path"


def _no_bpy(asked: Asked) -> str:
    if asked.bpy_python is None:
        return "needs --bpy-python PATH, an interpreter that has bpy"
    return cycles.no_bpy(asked.bpy_python)


def _no_cluster(_: Asked) -> str:
    absent = importlib.util.find_spec("distributed") is None
    return "needs a cluster: distributed is not installed" if absent else ""


def _page(said: str) -> Told:
    """From the sentences of that bench."""
    engine = re.search(r"(?m)^(\w+), \d+ cores", said)
    found = {
        name: [float(each) / 1000 for each in re.findall(r"\(least (\d+)\)", line)]
        for name, line in (line.split(":", 1) for line in said.splitlines() if "(least" in line)
    }
    assert engine is not None
    (_, dragged), (wall, first) = found.values()
    name = engine[1]
    most = FIRST_PICTURE_S.get(name)
    return Told(
        [
            Figure("readings of a dragged lamp, least CPU", dragged, "s"),
            Figure(f"first picture after a move, {name}, least wall", wall, "s", at_most=most),
            Figure("the same, least CPU", first, "s"),
        ]
    )


def _drags(said: str) -> Told:
    """From the sentences of that bench, one for everything that can be dragged."""
    told = [
        Figure(f"readings while {line.split(':')[0]} is dragged, least CPU", float(ms) / 1000, "s")
        for line in said.splitlines()
        for ms in re.findall(r"CPU .*\(least (\d+)\)", line)
    ]
    assert told, said
    return Told(told)


def _sized(quick: list[str], full: list[str]) -> Any:
    return lambda asked: quick if asked.quick else full


PARTS = (
    startup.PART,
    Part(
        "draft",
        "What a first look takes with a running engine, and closed-form readings beside it.",
        _sized(["--quick"], []),
        _plain,
    ),
    rebalance.PART,
    separate.PART,
    growth.PART,
    scaling.PART,
    Part(
        "bare",
        "Variance x CPU time of a look over that of a bare script's stock path integrator, all "
        "lights together; a tenth takes a tenth of the time for the same error.",
        _sized(["--json", "--width", "100", "--rounds", "4"], ["--json"]),
        _bare,
    ),
    Part(
        "cycles",
        "Variance x CPU time over that of an outside renderer, same geometry, lights and cores.",
        lambda asked: [
            *("--json", "--bpy-python", asked.bpy_python or "PATH"),
            *(
                ("--width", "80", "--renders", "4")
                if asked.quick
                else ("--samples", "16", "64", "--surface", "matte", "gloss")
            ),
        ],
        _cycles,
        lacking=_no_bpy,
    ),
    Part(
        "crews",
        "Two workers of one thread against one process of one thread, as processes and as a "
        "cluster.",
        _sized(["--sets", "1", "--rounds", "1", "--width", "96"], []),
        _crews,
        lacking=_no_cluster,
    ),
    Part(
        "emitters",
        "Variance x CPU time of a receptor's reading by each kind of front, over a plain box's.",
        _sized(["--quick"], []),
        _plain,
    ),
    Part(
        "mixing",
        "A re-balance in the browser, one of five lights turned.",
        _sized([], []),
        _mixing,
        lacking=_no_browser,
    ),
    Part(
        "page",
        "What the page takes to follow a hand, without browser and network.",
        _sized([], []),
        _page,
        read=str,
    ),
    Part(
        "drags",
        "Readings while a lamp, panel, sitter or camera is dragged, without browser and network.",
        _sized([], []),
        _drags,
        read=str,
    ),
    Part(
        "pages",
        "The card drawn from the shell, and its two pages laid side by side.",
        _sized([], []),
        _plain,
        module="drawn",
    ),
    Part(
        "people",
        "Making and loading a sitter: time, peak memory and disk.",
        _sized(["bob"], ["bob", "long", "curls"]),
        _plain,
    ),
    Part(
        "plans",
        "Solving for powers: 12 wishes, 4 lights.",
        _sized([], []),
        _plain,
    ),
)
