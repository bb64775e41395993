"""Workers of this machine: processes that trace chunks of light side by side, a thread each."""

from __future__ import annotations

import contextlib
import queue
import threading
from pathlib import Path
from types import TracebackType

from render.errors import EngineError
from render.trace import Engine, Task, choose_engine
from render.trace.tasks import Layers

IN_HAND = 2  # tasks that a worker has: one that it does and one that it goes on with
PATIENCE_S = 5.0  # for a thread to see that its engine is gone


class LocalWorkers:
    """Context manager around a crew of worker processes on this machine.

    `with LocalWorkers(4) as crew: light_frames(..., engine=crew)`. A worker that dies is started
    again and does its chunk once more, as often as an engine repeats a job.

    count  : worker processes, 1 at least, each of one thread
    engine : "auto", "llvm" or "scalar"
    raises : ValueError for less than one; EngineError if the engine cannot run here, or is one of
             a graphics card, which one process uses best
    """

    def __init__(self, count: int, engine: str = "auto", cache_dir: Path | None = None) -> None:
        if count < 1:
            raise ValueError(f"a crew has one worker at least, not {count}")
        choice = choose_engine(engine, cache_dir)
        if choice.name == "cuda":
            raise EngineError(
                "the cuda engine traces in one process (leave out --workers, or choose llvm)"
            )
        self._engines = [Engine(choice, cache_dir, threads=1) for _ in range(count)]
        self._todo: queue.SimpleQueue[Task | None] = queue.SimpleQueue()
        self._done: queue.SimpleQueue[tuple[Task, Layers | Exception]] = queue.SimpleQueue()
        self._awaited: set[Task] = set()
        self._threads: list[threading.Thread] = []

    @property
    def name(self) -> str:
        """The engine that every worker runs: "llvm" or "scalar"."""
        return self._engines[0].name

    @property
    def process_ids(self) -> list[int]:
        """Of the workers that run."""
        return [pid for engine in self._engines if (pid := engine.process_id) is not None]

    @property
    def room(self) -> int:
        """Tasks that can be given now without standing in line for long."""
        return IN_HAND * len(self._engines) - len(self._awaited)

    def __enter__(self) -> LocalWorkers:
        for engine in self._engines:
            thread = threading.Thread(target=self._work, args=(engine,), daemon=True)
            thread.start()
            self._threads.append(thread)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for engine in self._engines:
            engine.abandon()
            self._todo.put(None)
        for thread in self._threads:
            thread.join(PATIENCE_S)

    def give(self, task: Task) -> None:
        """Put a task in line."""
        self._awaited.add(task)
        self._todo.put(task)

    def take(self) -> tuple[Task, Layers]:
        """Wait for any task that is done. Raises EngineError if an engine fails."""
        while True:
            task, result = self._done.get()
            if task in self._awaited:
                break
        self._awaited.remove(task)
        if isinstance(result, Exception):
            raise result
        return task, result

    def forget(self) -> None:
        """Empty the line; what is being traced is thrown away when it is done."""
        self._awaited.clear()
        with contextlib.suppress(queue.Empty):
            while True:
                self._todo.get_nowait()

    def _work(self, engine: Engine) -> None:
        """One thread feeds one engine."""
        try:
            with engine:
                while (task := self._todo.get()) is not None:
                    self._done.put((task, _result(engine, task)))
        except EngineError:
            return  # abandoned before it started


def _result(engine: Engine, task: Task) -> Layers | Exception:
    """What the engine makes of a task; what goes wrong is told to whoever takes it."""
    try:
        layers: Layers = engine.call("chunk", task.stage, task.arguments)
    except Exception as error:
        return error
    return layers
