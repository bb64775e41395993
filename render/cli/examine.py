"""`tenthstop doctor`: what works on this machine and what to install for the rest."""

from __future__ import annotations

import importlib.metadata
import json
import os
import platform
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.markup import escape

from render.cli.paper import plain_table, printer
from render.folders import cache_folder, data_folder, scene_names
from render.setview import gl_verdict
from render.trace import FrameStore, engine_report
from render.writing import sweep

PACKAGES = (
    "tenthstop",
    "numpy",
    "scipy",
    "trimesh",
    "embreex",
    "mitsuba",
    "pyrender",
    "pydantic",
    "pillow",
    "pyoidn",
)
# Our folders of the cache, and how drafts of earlier versions and of the compiler's kernels end.
# The cache may lie among folders of others, whose drafts are none of ours.
DRAFTS = {"": (), "frames": (".part",), "sitters": (".part",), "kernels": (".tmp",), "quiz": ()}


def run_doctor(clear: bool, as_json: bool) -> None:
    """Print the report; with `clear`, delete the stored frames and left drafts first."""
    store = FrameStore()
    freed = store.clear() if clear else None
    if clear:
        clear_drafts(cache_folder(""))
    report = examine(store)
    if as_json:
        print(json.dumps(report, indent=1, ensure_ascii=False))
        return
    console = printer()
    if freed is not None:
        console.print("stored light frames deleted", highlight=False)
    show(console, report)


def clear_drafts(cache: Path) -> None:
    """Delete what killed programs left half written in the cache, but nothing that is under way."""
    for folder, endings in DRAFTS.items():
        sweep(cache / folder, endings)


def examine(store: FrameStore) -> dict[str, Any]:
    """Everything the doctor looks at, ready for JSON."""
    frames = store.entries()
    return {
        "versions": {"python": platform.python_version()} | {n: _version(n) for n in PACKAGES},
        "system": f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores",
        "engines": [
            {
                "name": verdict.choice.name,
                "usable": verdict.usable,
                "why": verdict.choice.why,
                "library": verdict.choice.library,
            }
            for verdict in engine_report()
        ],
        "gl": _gl(),
        "frames": {
            "folder": store.where,
            "count": len(frames),
            "bytes": sum(size for _, size in frames),
            "limit_bytes": store.limit_bytes,
        },
        "cache_folder": str(cache_folder("")),
        "scenes": {"folder": str(data_folder("scenes")), "names": list(scene_names())},
    }


def _version(name: str) -> str:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return "not installed"


def _gl() -> dict[str, Any]:
    """Whether sets can be drawn, tried anew."""
    verdict = gl_verdict(anew=True)
    return {"usable": verdict.usable, "why": verdict.why}


def show(console: Console, report: dict[str, Any]) -> None:
    """The report as tables."""
    table = plain_table(report["system"])
    table.add_column("part")
    table.add_column("version")
    for name, version in report["versions"].items():
        table.add_row(name, version)
    console.print(table)
    engines = plain_table("Engines (the first usable one traces)")
    for heading in ("engine", "usable", "why"):
        engines.add_column(heading)
    for verdict in report["engines"]:
        usable = "yes" if verdict["usable"] else "no"
        engines.add_row(verdict["name"], usable, escape(verdict["why"]))
    gl = report["gl"]
    engines.add_row("GL (draws sets)", "yes" if gl["usable"] else "no", escape(gl["why"]))
    console.print(engines)
    frames = report["frames"]
    console.print(
        f"Light frames: {frames['count']} in {frames['folder']}, {frames['bytes'] / 1e6:.1f} MB "
        f"{_limit(frames['limit_bytes'])} (tenthstop doctor --clear empties it).",
        highlight=False,
    )
    console.print(f"Bundled scenes: {', '.join(report['scenes']['names'])}.", highlight=False)


def _limit(limit_bytes: int | None) -> str:
    return "without a limit" if limit_bytes is None else f"of at most {limit_bytes / 1e9:.0f} GB"
