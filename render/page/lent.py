"""The page's engine, lent out a chunk at a time whenever the page itself needs nothing of it."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from render.errors import EngineError
from render.page.queue import Queue
from render.trace import Engine, Task
from render.trace.stage import Stage
from render.trace.tasks import Layers

NO_ENGINE = "no engine works here, and without one there is no light to trace"


class Lent:
    """A crew of one: every chunk waits until the present set has all its light.

    stop : set when the work is given up; what waits then ends with EngineError
    """

    hands = 1

    def __init__(self, queue: Queue, name: str, stop: threading.Event) -> None:
        self.name, self._queue, self._stop = name, queue, stop
        self._task: Task | None = None

    @property
    def room(self) -> int:
        """One task, or none."""
        return 1 if self._task is None else 0

    def give(self, task: Task) -> None:
        """Remember the task."""
        self._task = task

    def take(self) -> tuple[Task, Layers]:
        """Do it. Raises EngineError."""
        task, self._task = self._task, None
        assert task is not None  # nobody asks for what was not given
        return task, self._call(task.job, task.stage, task.arguments)

    def forget(self) -> None:
        """Drop the task."""
        self._task = None

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """One chunk after the other. Raises EngineError."""
        return [self._call(job, stage, each) for each in chunks]

    def _call(self, job: str, stage: Stage, arguments: Mapping[str, Any]) -> Any:
        return self._queue.ask_patiently(
            partial(_called, job=job, stage=stage, arguments=arguments), self._stop.is_set
        )


def _called(engine: Engine | None, job: str, stage: Stage, arguments: Mapping[str, Any]) -> Any:
    if engine is None:
        raise EngineError(NO_ENGINE)
    return engine.call(job, stage, arguments)
