"""The parts of a mesh file, read in a process whose memory and time are bounded."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from render.sitter.own.parts import Part, load_parts
from render.sitter.own.reader import READING_S, WRONG
from render.sitter.own.wish import MeshFault

WAITING_S = 300  # on a busy machine the reader gets a fifth of the processor
_PACKAGE = Path(__file__).resolve().parents[3]


def read_parts(file: Path) -> tuple[list[Part], list[str]]:
    """Parts of a mesh, and the names of the files that it misses; raises MeshFault."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "parts.npz"
        found = os.environ.get("PYTHONPATH", "")
        paths = os.pathsep.join(filter(None, [str(_PACKAGE), found]))
        try:
            done = subprocess.run(
                [sys.executable, "-m", "render.sitter.own.reader", str(file), str(out)],
                env=os.environ | {"PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1"},
                capture_output=True,
                encoding="utf-8",
                errors="replace",
                timeout=WAITING_S,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise _slow(file) from None
        said = done.stdout.splitlines()
        if done.returncode == WRONG and len(said) == 2:
            raise MeshFault(*said)
        if done.returncode == -signal.SIGXCPU:
            raise _slow(file)
        if done.returncode != 0 or not out.is_file():
            raise MeshFault(f"{file.name} broke its reader", "a whole, plain mesh file")
        return load_parts(out), [name for name in said if name]


def _slow(file: Path) -> MeshFault:
    found = f"{file.name} takes more than {READING_S} s to read"
    return MeshFault(found, "a mesh that is read faster: thin it first")
