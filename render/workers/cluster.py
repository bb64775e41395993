"""Workers of a cluster that runs already: chunks of light go out, pictures come back."""

from __future__ import annotations

import contextlib
import logging
import queue
import re
import threading
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import TracebackType
from typing import Any

from render.errors import EngineError
from render.trace import Task
from render.trace.digest import digest
from render.trace.stage import Stage
from render.trace.tasks import Layers
from render.workers.errand import best_engine, same, traced, versions
from render.workers.line import Line, Piece
from render.workers.reading import AHEAD, collected

ADDRESS = re.compile(r"(\w+://)?[^\s/]+:\d+")  # scheme, host and port
IN_HAND = 2  # pieces that a worker has while many wait: one that it does, one to go on with
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
        self._done: queue.SimpleQueue[tuple[Task, Any]] = queue.SimpleQueue()
        self._awaited: dict[Task, Piece] = {}
        self._lock, self._line = threading.RLock(), Line()
        self._out: dict[Piece, tuple[str, Any]] = {}  # worker and future of what is under way
        self._bodies: dict[str, Any] = {}

    @property
    def hands(self) -> int:
        """Workers, as counted last."""
        return len(self._workers)

    @property
    def room(self) -> int:
        """Tasks that can be put in line now."""
        self._hand_out()
        return AHEAD * self.hands - len(self._awaited)

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
        """Put a task in line."""
        piece = Piece(
            task.job, task.stage, task.arguments, lambda result: self._done.put((task, result))
        )
        self._awaited[task] = piece
        self._join([piece])

    def take(self) -> tuple[Task, Layers]:
        """Wait for any task that is done. Raises EngineError if one cannot be done."""
        while True:
            task, future = self._done.get()
            if self._awaited.pop(task, None) is not None:
                return task, self._result(future)

    def forget(self) -> None:
        """Call back all that was given."""
        self._leave(list(self._awaited.values()))
        self._awaited.clear()

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """Do a job on a stage with each of the arguments; results in their order.

        May be called by several threads. Raises EngineError if one cannot be done.
        """
        futures = collected(job, stage, chunks, self._join, self._leave)
        return [self._result(future) for future in futures]

    def _join(self, pieces: Sequence[Piece]) -> None:
        with self._lock:
            self._line.waiting.extend(pieces)
            self._hand_out()

    def _leave(self, pieces: Sequence[Piece]) -> None:
        with self._lock:
            self._line.waiting = [each for each in self._line.waiting if each not in pieces]
            out = [self._out.pop(each)[1] for each in pieces if each in self._out]
        if out:
            self._client.cancel(out)

    def _hand_out(self) -> None:
        """Send what waits to workers that have less than they can have in hand.

        A second piece only while there is plenty: at the end nobody shall wait beside a worker
        that has two.
        """
        with self._lock:
            self._count()
            has = Counter(worker for worker, _ in self._out.values())
            for most in range(1, IN_HAND + 1):
                for worker in self._workers:
                    plenty = most == 1 or len(self._line.waiting) > len(self._workers)
                    if has[worker] < most and plenty:
                        piece = self._line.next_for(worker, idle=most == 1)
                        if piece is not None:
                            self._send(piece, worker)
                            has[worker] += 1

    def _send(self, piece: Piece, worker: str) -> None:
        future = self._client.submit(
            traced,
            piece.job,
            replace(piece.stage, body=None),
            piece.arguments,
            self._body(piece.stage),
            self.name,
            versions(),
            pure=False,
            workers=[worker],
            allow_other_workers=True,
        )
        self._out[piece] = worker, future
        future.add_done_callback(lambda done: self._back(piece, done))

    def _back(self, piece: Piece, future: Any) -> None:
        """A piece is done, or has failed; called by a thread of the library."""
        with self._lock:
            wanted = self._out.pop(piece, None) is not None
        if wanted:
            piece.deliver(future)
            with contextlib.suppress(Exception):  # a lost scheduler is told of by the results
                self._hand_out()

    def _count(self) -> None:
        if time.monotonic() - self._counted > COUNT_EVERY_S:
            self._counted = time.monotonic()
            self._workers = list(self._client.nthreads()) or self._workers
            self._line.keep(self._workers)

    def _body(self, stage: Stage) -> Any:
        """The sitter as the cluster knows it; who is new there is sent once."""
        import dask

        key = f"sitter-{digest(stage.body)}"
        if key not in self._bodies:
            with dask.config.set({"distributed.admin.large-graph-warning-threshold": WHOLE_SITTER}):
                self._bodies[key] = self._client.submit(same, stage.body, key=key)
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


def _first_workers(client: Any, address: str) -> list[str]:
    """Addresses of the workers, one at least. Raises EngineError if none comes."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError:
        raise EngineError(
            f"no worker has joined the cluster at {address} (start some: dask worker {address})"
        ) from None
    return list(client.nthreads())
