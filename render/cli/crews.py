"""Who traces: this process's engine, workers of this machine, or a cluster."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from render.errors import OutputError
from render.trace import Crew, Engine

Many = tuple[int | None, str]  # number of worker processes, address of a cluster
ALONE: Many = (None, "")


@contextmanager
def crew(engine: str, workers: int | None, cluster: str) -> Iterator[Engine | Crew]:
    """Those who trace, for as long as the block lasts.

    workers : number of processes on this machine; None = one engine with all threads
    cluster : address of a dask.distributed scheduler; "" = none
    Raises OutputError for both, EngineError if nobody can trace.
    """
    if workers is not None and cluster:
        raise OutputError("--cluster: found together with --workers (accepted: one of them)")
    if cluster:
        from render.workers import ClusterWorkers

        with ClusterWorkers(cluster, engine) as far:
            yield far
    elif workers is not None:
        from render.workers import LocalWorkers

        with LocalWorkers(workers, engine) as near:
            yield near
    else:
        with Engine(engine) as alone:
            yield alone
