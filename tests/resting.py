"""Workers of the tracer that rest between tests: starting one and its first kernels take seconds.

An engine that is left in good order leaves its worker behind; the next engine of the same kind goes
on with it. A worker that died, was killed or stopped in the middle of a job is never used again.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any

import pytest

from render.trace import Engine

# Processes of pytest-xdist share the cores: two threads of a tracer would only wait for each other.
THREADS = 1 if "PYTEST_XDIST_WORKER" in os.environ else None
START, STOP = Engine._start, Engine._stop
Kind = tuple[Any, ...]
Worker = tuple["subprocess.Popen[bytes]", IO[bytes]]


def _kind(engine: Engine) -> Kind:
    return engine.choice.variant, engine.choice.library, engine.threads, engine._cache_dir


@contextmanager
def resting_workers() -> Iterator[None]:
    """Engines started here share workers, one after the other."""
    resting: dict[Kind, list[Worker]] = {}

    def start(engine: Engine) -> None:
        engine.threads = engine.threads or THREADS
        rested = resting.get(_kind(engine))
        if rested and not engine._abandoned:
            engine._process, engine._log = rested.pop()
        else:
            START(engine)

    def stop(engine: Engine, gently: bool) -> None:
        process, log = engine._process, engine._log
        fit = gently and not engine._abandoned and not engine._owed
        if fit and process and log and process.poll() is None:
            resting.setdefault(_kind(engine), []).append((process, log))
            engine._process = None
        else:
            STOP(engine, gently)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Engine, "_start", start)
        patch.setattr(Engine, "_stop", stop)
        yield
    for process, log in (worker for kind in resting.values() for worker in kind):
        for pipe in (process.stdin, process.stdout):
            if pipe:
                pipe.close()
        process.wait()
        log.close()
