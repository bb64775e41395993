"""What a sitter costs: time to make, to load again, memory and disk; each style in a process of
its own, because peak memory is a process's.

`python -m tests.bench.people HAIR ...` prints JSON; CPU times.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from render.folders import data_folder
from render.sitter import Wishes, build_body

MIB = 1 << 20


def measured(hair: str) -> dict[str, float]:
    """Seconds to make and to load alma with this hair, and what it takes in memory and on disk."""
    data = data_folder("meshes")
    with tempfile.TemporaryDirectory() as folder:
        found = {}
        for name in ("made_s", "loaded_s"):
            start = time.process_time()
            body = build_body(Wishes(hair=hair), data_dir=data, cache_dir=Path(folder))
            found[name] = time.process_time() - start
            if name == "made_s":
                peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
                found["peak_memory_mib"] = peak * 1024 / MIB
        found["file_mib"] = sum(f.stat().st_size for f in Path(folder).iterdir()) / MIB
    found["hairs"] = sum(len(s.points) for s in body.strands if s.name.startswith("hair"))
    return found


def sitters(styles: tuple[str, ...]) -> dict[str, float]:
    """The figures of every style, named `sitter_<style>_<figure>`."""
    out = {}
    for style in styles:
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.people", style], check=True, stdout=subprocess.PIPE
        )
        figures = json.loads(done.stdout)
        out |= {f"sitter_{style.replace(' ', '_')}_{k}": v for k, v in figures.items()}
    return out


if __name__ == "__main__":
    styles = tuple(sys.argv[1:])
    print(json.dumps(measured(styles[0]) if len(styles) == 1 else sitters(styles)))
