"""Workers of a cluster that runs already: chunks of light go out, pictures come back."""

from __future__ import annotations

import logging
import queue
import re
import time
from dataclasses import replace
from types import TracebackType
from typing import Any

from render.errors import EngineError
from render.trace import Task
from render.trace.digest import digest
from render.trace.tasks import Layers
from render.workers.errand import best_engine, same, trace_chunk, versions

ADDRESS = re.compile(r"(\w+://)?[^\s/]+:\d+")  # scheme, host and port
IN_HAND = 2  # tasks that a worker has: one that it does and one that it goes on with
CONNECT_S = 10.0  # for the scheduler to answer; its first worker may take as long
COUNT_EVERY_S = 2.0  # workers may come and go
KEPT_BODIES = 4  # sitters that the cluster remembers, newest last
WHOLE_SITTER = 1 << 30  # bytes; the library warns of tasks above 10 MB, and a sitter is one


class ClusterWorkers:
    """Context manager around the workers of a dask.distributed cluster.

    A worker that is lost loses its chunk alone, which the scheduler has done again by another.

    address : of the scheduler, such as "tcp://192.168.1.20:8786"
    engine  : "auto" (as the first worker chooses), "cuda", "llvm" or "scalar", for all of them
    raises  : EngineError where the library or the scheduler is missing, or nobody works for it
    """

    def __init__(self, address: str, engine: str = "auto") -> None:
        self._address = address
        self._client = _connected(address)
        try:
            self._workers, self._counted = _first_workers(self._client, address), time.monotonic()
            chosen = self._client.submit(best_engine, pure=False) if engine == "auto" else None
            self.name = engine if chosen is None else self._result(chosen)
        except BaseException:
            self._client.close()
            raise
        self._done: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._tasks: dict[str, tuple[Task, Any]] = {}  # by the future's key
        self._bodies: dict[str, Any] = {}

    @property
    def room(self) -> int:
        """Tasks that can be given now without standing in line for long."""
        if time.monotonic() - self._counted > COUNT_EVERY_S:
            self._workers, self._counted = len(self._client.nthreads()), time.monotonic()
        return IN_HAND * max(1, self._workers) - len(self._tasks)

    def __enter__(self) -> ClusterWorkers:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.forget()
        self._client.close()

    def give(self, task: Task) -> None:
        """Send a task to the scheduler."""
        alone = replace(task, stage=replace(task.stage, body=None))
        future = self._client.submit(
            trace_chunk, alone, self._body(task), self.name, versions(), pure=False
        )
        self._tasks[future.key] = (task, future)
        future.add_done_callback(self._done.put)

    def take(self) -> tuple[Task, Layers]:
        """Wait for any task that is done. Raises EngineError if one cannot be done."""
        while True:
            future = self._done.get()
            task, known = self._tasks.pop(future.key, (None, None))
            if task is not None:
                return task, self._result(known)

    def forget(self) -> None:
        """Call back all that was given."""
        futures = [future for _, future in self._tasks.values()]
        self._tasks.clear()
        self._client.cancel(futures)

    def _body(self, task: Task) -> Any:
        """The sitter as the cluster knows it; who is new there is sent once."""
        import dask

        key = f"sitter-{digest(task.stage.body)}"
        if key not in self._bodies:
            with dask.config.set({"distributed.admin.large-graph-warning-threshold": WHOLE_SITTER}):
                self._bodies[key] = self._client.submit(same, task.stage.body, key=key)
            while len(self._bodies) > KEPT_BODIES:
                self._bodies.pop(next(iter(self._bodies)))
        return self._bodies[key]

    def _result(self, future: Any) -> Any:
        from distributed import KilledWorker
        from distributed.client import FutureCancelledError

        try:
            return future.result()
        except EngineError:
            raise
        except KilledWorker:
            raise EngineError(
                f"the cluster at {self._address} gave up a chunk: every worker that had it died "
                "(look at their memory and logs)"
            ) from None
        except FutureCancelledError:
            raise EngineError(
                f"the cluster at {self._address} is gone (what was finished is kept)"
            ) from None
        except Exception as problem:
            raise EngineError(
                f"a machine of the cluster at {self._address} failed: "
                f"{type(problem).__name__}: {problem} (is the same tenthstop installed there?)"
            ) from None


def _connected(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        raise EngineError(
            "--cluster: dask.distributed is not installed (pip install 'tenthstop[cluster]')"
        ) from None
    try:
        # What its log would say of a lost scheduler is said once, in a sentence.
        logging.getLogger("distributed.client").setLevel(logging.CRITICAL)
        if not ADDRESS.fullmatch(address):
            raise ValueError("it is no address")
        return Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError) as problem:
        reason = str(problem).splitlines()[0] if str(problem) else type(problem).__name__
        raise EngineError(
            f'--cluster: no scheduler answers at "{address}": {reason} (accepted: the address '
            "that `dask scheduler` prints, such as tcp://192.168.1.20:8786)"
        ) from None


def _first_workers(client: Any, address: str) -> int:
    """Number of workers, one at least. Raises EngineError if none comes."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError:
        raise EngineError(
            f"no worker has joined the cluster at {address} (start some: dask worker {address})"
        ) from None
    return len(client.nthreads())
