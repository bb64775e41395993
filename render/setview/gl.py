"""Whether this machine can draw offscreen: tried once in a process of its own, then remembered."""

from __future__ import annotations

import contextlib
import ctypes.util
import glob
import importlib.metadata
import json
import os
import platform
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from render.errors import OutputError, ViewError
from render.folders import cache_folder
from render.setview import library
from render.writing import put

PATIENCE_S = 60.0  # of a trial on a busy machine; far above what is needed
INSTALL = "pip install --force-reinstall pyrender PyOpenGL==3.1.0"
CURE = (
    "on Debian or Ubuntu: sudo apt-get install libegl1 libgl1"
    if sys.platform == "linux"
    else "a driver with OpenGL 3.3"
)
# What changes when a driver is installed or removed.
DRIVERS = (
    "/usr/share/glvnd/egl_vendor.d",
    "/etc/glvnd/egl_vendor.d",
    "/usr/lib/*/dri",
    "/usr/lib64/dri",
    "/dev/dri",
)


@dataclass(frozen=True, slots=True)
class GlVerdict:
    """Whether sets can be drawn here, and why or why not."""

    usable: bool
    why: str  # in words; what to install where it is not usable


def gl_verdict(anew: bool = False) -> GlVerdict:
    """Whether offscreen GL works on this machine.

    anew : try again whatever is remembered
    """
    if anew:
        _remembered.cache_clear()
        return _tried(_file(), _key())
    return _remembered()


@cache
def _remembered() -> GlVerdict:
    file, key = _file(), _key()
    known = _read(file)
    return GlVerdict(*known[key]) if key in known else _tried(file, key)


def _tried(file: Path | None, key: str) -> GlVerdict:
    verdict = _trial()
    _write(file, {key: [verdict.usable, verdict.why]})
    return verdict


@cache
def drawing_library() -> Any:
    """The library ready to draw; raises ViewError with the cure where there is no GL."""
    verdict = gl_verdict()
    if not verdict.usable:
        raise ViewError(f"the set cannot be drawn here: {verdict.why}")
    return library.load()


def _trial() -> GlVerdict:
    """Draw 8 x 8 pixels in a process of its own: a bad driver may take that one down."""
    if _version("pyrender") == "none":
        return GlVerdict(False, f"pyrender is not installed ({INSTALL})")
    command = [sys.executable, "-P", str(Path(library.__file__))]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=PATIENCE_S, check=False
        )
    except subprocess.TimeoutExpired:
        return GlVerdict(False, f"the GL driver did not answer in {PATIENCE_S:.0f} s ({CURE})")
    if done.returncode == 0 and done.stdout.split()[-1:] == ["drawn"]:
        return GlVerdict(True, "an offscreen picture was drawn")
    return GlVerdict(False, f"no offscreen GL was found ({CURE})")


def _key() -> str:
    """All that a verdict hangs on: libraries, drivers, versions."""
    names = [ctypes.util.find_library(name) or "" for name in ("EGL", "GL")]
    places = [found for pattern in DRIVERS for found in sorted(glob.glob(pattern))]  # noqa: PTH207
    dated = [f"{place}@{Path(place).stat().st_mtime_ns}" for place in places]
    chosen = [os.environ.get(name, "") for name in ("EGL_DEVICE_ID", "LIBGL_ALWAYS_SOFTWARE")]
    versions = [_version(name) for name in ("pyrender", "PyOpenGL")]
    return "|".join([*names, *dated, *chosen, *versions, platform.python_version()])


def _version(name: str) -> str:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return "none"


def _file() -> Path | None:
    try:
        return cache_folder("gl.json")
    except OutputError:  # nothing can be kept: it is tried every time
        return None


def _read(file: Path | None) -> dict[str, tuple[bool, str]]:
    try:
        content = json.loads(file.read_text()) if file else {}
        return {key: (bool(usable), str(why)) for key, (usable, why) in content.items()}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return {}


def _write(file: Path | None, content: dict[str, list[bool | str]]) -> None:
    if file is None:
        return
    with contextlib.suppress(OSError):  # what cannot be remembered is tried again
        put(file, json.dumps(content, indent=1).encode(), lasting=False)
