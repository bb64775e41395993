"""Which engine traces the light here: the graphics card, the compiled one, or the plain one."""

from __future__ import annotations

import contextlib
import ctypes.util
import functools
import glob
import importlib.metadata
import json
import os
import platform
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from render.errors import EngineError
from render.folders import cache_folder, unkept
from render.writing import put

OLDEST_LLVM = 17  # 14 is refused by the tracer, 15 and 16 abort the process at a first kernel
# A trial may fail in a bad moment, such as one without memory: only then is a refusal believed.
FAILURES = 3
PROBE_SECONDS = 120  # a first compilation on a busy machine; far above what is needed
VARIANTS = {"cuda": "cuda_ad_rgb", "llvm": "llvm_ad_rgb", "scalar": "scalar_rgb"}
Remembered = tuple[bool, str, int]  # of a trial: usable, why, how often it failed in a row
CURES = {
    "cuda": "install the NVIDIA driver for this card, or choose llvm or scalar",
    "llvm": f"install LLVM {OLDEST_LLVM} or newer (pip install karellen-llvm-core), "
    "or choose scalar",
    "scalar": "reinstall mitsuba 3.9",
}
SYSTEM_LLVM = (
    "/usr/lib/llvm-*/lib/libLLVM*.so*",
    "/usr/lib/*/libLLVM*.so*",
    "/usr/lib64/libLLVM*.so*",
    "/opt/homebrew/opt/llvm*/lib/libLLVM*.dylib",
    "/usr/local/opt/llvm*/lib/libLLVM*.dylib",
    "C:/Program Files/LLVM/bin/LLVM-C.dll",
)


@dataclass(frozen=True, slots=True)
class EngineChoice:
    """An engine that can be asked for, and what is known about it on this machine."""

    name: str  # "cuda", "llvm" or "scalar"
    variant: str  # the tracer's own name for it
    library: str | None  # the compiler library that it needs
    why: str  # why it was chosen or refused


@dataclass(frozen=True, slots=True)
class EngineVerdict:
    """One candidate as `doctor` lists it."""

    choice: EngineChoice
    usable: bool


def user_cache(cache_dir: Path | None = None) -> Path:
    """The folder that holds verdicts, compiled kernels and light frames."""
    return Path(cache_dir) if cache_dir else cache_folder("")


def choose_engine(wanted: str = "auto", cache_dir: Path | None = None) -> EngineChoice:
    """The fastest engine that works here, or the wanted one.

    wanted    : "auto", "cuda", "llvm" or "scalar"
    cache_dir : where verdicts are remembered; None = the user's cache folder
    raises    : EngineError if the wanted engine cannot run here
    """
    if wanted != "auto" and wanted not in VARIANTS:
        raise EngineError(f"no engine is called {wanted!r} (choose auto, cuda, llvm or scalar)")
    refused: list[str] = []
    for candidate in _candidates():
        if wanted in ("auto", candidate.name):
            verdict = _judge(candidate, user_cache(cache_dir))
            if verdict.usable:
                return verdict.choice
            refused.append(verdict.choice.why)
    cure = CURES["scalar" if wanted == "auto" else wanted]
    name = "render" if wanted == "auto" else wanted
    raise EngineError(f"the {name} engine cannot run here: {'; '.join(refused)} ({cure})")


def engine_report(cache_dir: Path | None = None) -> tuple[EngineVerdict, ...]:
    """Every engine that this machine might run, best first; those refused before are tried anew."""
    return tuple(_judge(candidate, user_cache(cache_dir), True) for candidate in _candidates())


def worker_environment(choice: EngineChoice, cache_dir: Path | None = None) -> dict[str, str]:
    """Environment of a process that runs this engine; must be set before the tracer loads."""
    env = dict(os.environ)
    kernels = user_cache(cache_dir) / "kernels"
    try:
        kernels.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise unkept(kernels.parent, "finished work", problem) from None
    env["DRJIT_CACHE_DIR"] = str(kernels)
    if choice.library and choice.name == "llvm":
        env["DRJIT_LIBLLVM_PATH"] = choice.library
    root = str(Path(__file__).resolve().parents[2])
    env["PYTHONPATH"] = os.pathsep.join(filter(None, (root, env.get("PYTHONPATH", ""))))
    return env


@functools.cache
def tracer_version() -> str:
    """Versions of the tracer and its compiler, without loading them; "none" if not installed."""
    try:
        return "/".join(importlib.metadata.version(name) for name in ("mitsuba", "drjit"))
    except importlib.metadata.PackageNotFoundError:
        return "none"


def _candidates() -> list[EngineChoice]:
    driver = ctypes.util.find_library("nvcuda" if sys.platform == "win32" else "cuda")
    found = [EngineChoice("cuda", VARIANTS["cuda"], driver, "")]
    libraries = llvm_libraries()
    found += [EngineChoice("llvm", VARIANTS["llvm"], str(path), "") for path in libraries]
    if not libraries:
        found.append(EngineChoice("llvm", VARIANTS["llvm"], None, ""))
    return [*found, EngineChoice("scalar", VARIANTS["scalar"], None, "")]


def llvm_libraries() -> list[Path]:
    """LLVM libraries on this machine, the preferred first, each file once."""
    named = os.environ.get("DRJIT_LIBLLVM_PATH")
    own = [Path(sys.prefix) / "lib" / "libLLVM*.so*", Path(sys.prefix) / "lib" / "libLLVM*.dylib"]
    found = [Path(named)] if named else []
    found += [path for pattern in own for path in _newest_first(str(pattern))]
    found += [path for pattern in SYSTEM_LLVM for path in _newest_first(pattern)]
    system = ctypes.util.find_library("LLVM")
    if system:
        found += [Path(system)] if Path(system).exists() else []
    unique: dict[Path, Path] = {}
    for path in found:
        unique.setdefault(path.resolve(), path)
    return list(unique.values())


def _newest_first(pattern: str) -> list[Path]:
    found = (Path(p) for p in glob.glob(pattern))  # noqa: PTH207 - patterns are absolute
    return sorted(found, key=llvm_version, reverse=True)


def llvm_version(path: Path) -> int:
    """Main version as the file's real name or folder tells it; 0 if it does not."""
    numbers = re.findall(r"(?:LLVM|llvm)[-.]?(?:so\.)?(\d+)", str(path.resolve()))
    return int(numbers[-1]) if numbers else 0


def _judge(candidate: EngineChoice, cache: Path, anew: bool = False) -> EngineVerdict:
    """Verdict on a candidate: by what is missing, by what is remembered, or by a trial.

    anew : try what was refused once more
    """
    missing = _plainly_missing(candidate)
    if missing:
        return _verdict(candidate, False, missing)
    file = cache / "engines.json"
    name = _verdict_key(candidate)
    usable, why, failed = _read(file).get(name, (False, "", 0))
    if not usable and (anew or failed < FAILURES):
        usable, why = _trial(candidate, cache)
        _write(file, {**_read(file), name: (usable, why, 0 if usable else failed + 1)})
    return _verdict(candidate, usable, why)


def _verdict(candidate: EngineChoice, usable: bool, why: str) -> EngineVerdict:
    choice = EngineChoice(candidate.name, candidate.variant, candidate.library, why)
    return EngineVerdict(choice, usable)


def _plainly_missing(candidate: EngineChoice) -> str:
    if tracer_version() == "none":
        return "mitsuba is not installed"
    if candidate.name == "cuda" and candidate.library is None:
        return "no NVIDIA driver was found"
    if candidate.name == "llvm":
        if candidate.library is None:
            return "no LLVM library was found"
        version = llvm_version(Path(candidate.library))
        if 0 < version < OLDEST_LLVM:
            return f"LLVM {version} in {candidate.library} is too old"
    return ""


def _verdict_key(candidate: EngineChoice) -> str:
    library = candidate.library or ""
    file = Path(library)
    changed = file.stat().st_mtime_ns if library and file.exists() else 0
    parts = (candidate.variant, library, str(changed), tracer_version(), platform.python_version())
    return "|".join(parts)


def _trial(candidate: EngineChoice, cache: Path) -> tuple[bool, str]:
    """Trace 16 x 16 pixels in a process of its own: a bad library may take that one down."""
    command = [sys.executable, "-m", "render.trace.probe", candidate.variant]
    env = worker_environment(candidate, cache)
    label = {"cuda": "a graphics card", "llvm": candidate.library, "scalar": "the processor"}
    try:
        done = subprocess.run(
            command, env=env, capture_output=True, text=True, timeout=PROBE_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return False, f"a trial on {label[candidate.name]} did not end in {PROBE_SECONDS} s"
    if done.returncode == 0 and done.stdout.strip().endswith("ok"):
        return True, f"a trial on {label[candidate.name]} worked"
    return False, f"a trial on {label[candidate.name]} failed with code {done.returncode}"


def _read(file: Path) -> dict[str, Remembered]:
    """What is remembered; nothing of a file that cannot be read or says something else."""
    try:
        content = json.loads(file.read_text())
        found = {name: (usable, why, failed) for name, (usable, why, failed) in content.items()}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return {}
    return {k: v for k, v in found.items() if tuple(map(type, v)) == (bool, str, int)}


def _write(file: Path, content: dict[str, Remembered]) -> None:
    with contextlib.suppress(OSError):  # what cannot be remembered is tried again
        file.parent.mkdir(parents=True, exist_ok=True)
        put(file, json.dumps(content, indent=1).encode(), lasting=False)
