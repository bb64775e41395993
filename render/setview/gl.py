"""Whether this machine can draw offscreen: tried once in a process of its own, then remembered."""

from __future__ import annotations

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

from render.errors import OutputError, ViewError
from render.folders import cache_folder

PATIENCE_S = 60.0  # of a trial on a busy machine; far above what is needed
TRIAL = """
import numpy as np, pyrender
painter = pyrender.OffscreenRenderer(8, 8)
scene = pyrender.Scene(bg_color=[1.0, 0.0, 0.0, 1.0])
scene.add(pyrender.PerspectiveCamera(1.0))
colour, _ = painter.render(scene, pyrender.RenderFlags.FLAT)
painter.delete()
assert tuple(colour[4, 4][:3]) == (255, 0, 0)
print("drawn")
"""
INSTALL = "pip install --force-reinstall pyrender PyOpenGL==3.1.0"
CURE = (
    "on Debian or Ubuntu: sudo apt-get install libegl1 libgl1 libgl1-mesa-dri"
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
    key = _key()
    file = _file()
    known = _read(file)
    if anew or key not in known:
        verdict = _trial()
        _write(file, {key: [verdict.usable, verdict.why]})
        return verdict
    return GlVerdict(*known[key])


@cache
def need_gl() -> None:
    """Make GL ready for this process; raises ViewError with the cure where there is none."""
    verdict = gl_verdict()
    if not verdict.usable:
        raise ViewError(f"the set cannot be drawn here: {verdict.why}")
    os.environ.update(_environment())


def _environment() -> dict[str, str]:
    """What must be set before the library is loaded: no window is asked for."""
    return {} if sys.platform != "linux" else {"PYOPENGL_PLATFORM": "egl"}


def _trial() -> GlVerdict:
    """Draw 8 x 8 pixels in a process of its own: a bad driver may take that one down."""
    if _version("pyrender") == "none":
        return GlVerdict(False, f"pyrender is not installed ({INSTALL})")
    env = {**os.environ, **_environment()}
    try:
        done = subprocess.run(
            [sys.executable, "-c", TRIAL],
            env=env,
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return GlVerdict(False, f"the GL driver did not answer in {PATIENCE_S:.0f} s ({CURE})")
    if done.returncode == 0 and done.stdout.strip().endswith("drawn"):
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
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def _write(file: Path | None, content: dict[str, list[bool | str]]) -> None:
    if file is None:
        return
    draft = file.with_name(f"{file.name}.{os.getpid()}")
    draft.write_text(json.dumps(content, indent=1))
    draft.replace(file)
