"""What a machine of a cluster does for us: one engine for each worker process, piece by piece."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from render.errors import EngineError
from render.sitter.body import Body
from render.trace import Engine, choose_engine
from render.trace.choice import tracer_version
from render.trace.frames import MODEL_VERSION
from render.trace.stage import Stage

Versions = tuple[str, int]  # of the tracer, and of what frames show

_engines: dict[str, Engine] = {}  # those that run in this worker process, by name
_one_at_a_time = threading.Lock()


def versions() -> Versions:
    """What must be the same everywhere for chunks to belong together."""
    return tracer_version(), MODEL_VERSION


def best_engine() -> str:
    """Name of the engine that this machine would choose."""
    return choose_engine("auto").name


def same(body: Body | None) -> Body | None:
    """The sitter, sent as a task of its own: the cluster keeps it, and makes it anew if lost."""
    return body


def traced(
    job: str,
    stage: Stage,
    arguments: Mapping[str, Any],
    body: Body | None,
    engine_name: str,
    asked: Versions,
) -> Any:
    """Do one job in this worker process, with as many threads as the worker was given.

    stage : without the sitter, who travels apart
    Raises EngineError if this machine has other versions than asked, lacks the engine or fails.
    """
    if versions() != asked:
        raise EngineError(
            f"a machine of the cluster has tracer {versions()[0]}, model {versions()[1]} "
            f"(install the same tenthstop everywhere: tracer {asked[0]}, model {asked[1]})"
        )
    with _one_at_a_time:
        return _engine(engine_name).call(job, replace(stage, body=body), arguments)


def _engine(name: str) -> Engine:
    if name not in _engines:
        from distributed import get_worker

        _engines[name] = Engine(name, threads=get_worker().state.nthreads)
    return _engines[name]
