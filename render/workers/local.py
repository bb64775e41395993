"""Workers of this machine: processes that trace chunks of light side by side, a thread each."""

from __future__ import annotations

import queue
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

from render.errors import EngineError
from render.trace import Engine, Task, choose_engine
from render.trace.stage import Stage
from render.trace.tasks import Layers
from render.workers.line import Line, Piece
from render.workers.reading import AHEAD, collected

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
        self._line, self._changed, self._over = Line(), threading.Condition(), False
        self._done: queue.SimpleQueue[tuple[Task, Any]] = queue.SimpleQueue()
        self._awaited: dict[Task, Piece] = {}
        self._threads: list[threading.Thread] = []

    @property
    def name(self) -> str:
        """The engine that every worker runs: "llvm" or "scalar"."""
        return self._engines[0].name

    @property
    def hands(self) -> int:
        """Workers."""
        return len(self._engines)

    @property
    def process_ids(self) -> list[int]:
        """Of the workers that run."""
        return [pid for engine in self._engines if (pid := engine.process_id) is not None]

    @property
    def room(self) -> int:
        """Tasks that can be put in line now."""
        return AHEAD * self.hands - len(self._awaited)

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
        with self._changed:
            self._over = True
            self._changed.notify_all()
        for engine in self._engines:
            engine.abandon()
        for thread in self._threads:
            thread.join(PATIENCE_S)

    def give(self, task: Task) -> None:
        """Put a task in line."""
        piece = Piece(
            task.job, task.stage, task.arguments, lambda result: self._done.put((task, result))
        )
        self._awaited[task] = piece
        self._join([piece])

    def take(self) -> tuple[Task, Layers]:
        """Wait for any task that is done. Raises EngineError if an engine fails."""
        while True:
            task, result = self._done.get()
            if self._awaited.pop(task, None) is not None:
                break
        if isinstance(result, Exception):
            raise result
        return task, result

    def forget(self) -> None:
        """Take tasks out of the line; what is being traced is thrown away when it is done."""
        self._leave(list(self._awaited.values()))
        self._awaited.clear()

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """Do a job on a stage with each of the arguments; results in their order.

        May be called by several threads. Raises EngineError if an engine fails.
        """
        return collected(job, stage, chunks, self._join, self._leave)

    def _join(self, pieces: Sequence[Piece]) -> None:
        with self._changed:
            self._line.waiting.extend(pieces)
            self._changed.notify_all()

    def _leave(self, pieces: Sequence[Piece]) -> None:
        with self._changed:
            self._line.waiting = [each for each in self._line.waiting if each not in pieces]

    def _next(self, engine: Engine) -> Piece | None:
        """Wait for a piece of work; None when all is over."""
        with self._changed:
            while not self._over:
                if (piece := self._line.next_for(engine)) is not None:
                    return piece
                self._changed.wait()
        return None

    def _work(self, engine: Engine) -> None:
        """One thread feeds one engine."""
        try:
            with engine:
                while (piece := self._next(engine)) is not None:
                    piece.deliver(_result(engine, piece))
        except EngineError:
            return  # abandoned before it started


def _result(engine: Engine, piece: Piece) -> Any:
    """What the engine makes of a piece; what goes wrong is told to whoever takes it."""
    try:
        return engine.call(piece.job, piece.stage, piece.arguments)
    except Exception as error:
        return error
