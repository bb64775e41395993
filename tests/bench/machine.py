"""The machine that a bench runs on, in words and numbers, and how busy it is."""

from __future__ import annotations

import importlib.metadata
import os
import platform
import subprocess
from pathlib import Path

from render.errors import EngineError
from render.trace import choose_engine

PACKAGES = ("mitsuba", "drjit", "numpy", "scipy", "pydantic", "typer", "embreex")
GIB = 1 << 30


def described() -> dict[str, object]:
    """Processor, cores, memory, engine, versions."""
    return {
        "processor": _processor(),
        "architecture": platform.machine(),
        "cores": len(os.sched_getaffinity(0)),
        "cores_of_the_machine": os.cpu_count(),
        "memory_gib": round(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / GIB, 1),
        "graphics_card": graphics_card() or "none",
        "system": f"{platform.system()} {platform.release().split('-')[0]}",
        "python": platform.python_version(),
        "engine": _engine(),
        "versions": {name: _version(name) for name in PACKAGES},
        "commit": _commit(),
    }


def load() -> float:
    """Processes that wanted a core, mean of the last minute."""
    return round(os.getloadavg()[0], 2)


def graphics_card() -> str:
    """Name of the first one that a driver shows; empty without."""
    try:
        told = ["nvidia-smi", "--query-gpu=name", "--format=csv,noheader"]
        found = subprocess.run(told, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        return ""
    return found.splitlines()[0] if found.strip() else ""


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        lines = []
    named = (line.split(":", 1)[1].strip() for line in lines if line.startswith("model name"))
    return next(named, platform.processor() or "unknown")


def _engine() -> str:
    try:
        return choose_engine().name
    except EngineError as problem:
        return f"none: {problem}"


def _version(package: str) -> str:
    try:
        return importlib.metadata.version(package)
    except importlib.metadata.PackageNotFoundError:
        return "absent"


def _commit() -> str:
    try:
        told = ["git", "describe", "--always", "--dirty"]
        return subprocess.run(told, capture_output=True, text=True, check=True).stdout.strip()
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
