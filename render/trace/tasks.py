"""Chunks of light: the pieces of work that one worker, or many, do in any order."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import View
from render.trace.engine import Engine
from render.trace.stage import Stage
from render.trace.tally import chunk_samples

Layers = Sequence[NDArray[np.float32]]  # one (h, w, 3) per light of the stage, in its order


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """One chunk of samples of the lights that share a traversal.

    Its number is its seed too: what a chunk shows depends on the set, on the lights that are
    traced together and on the number, never on who traces it or when.
    """

    stage: Stage  # `emitting`: the lights of the traversal
    view: View
    size_px: tuple[int, int]
    number: int

    @property
    def samples(self) -> int:
        """Per pixel."""
        return chunk_samples(self.number)

    @property
    def paths(self) -> int:
        """Light paths from the camera, of all pixels."""
        return self.samples * self.size_px[0] * self.size_px[1]

    @property
    def job(self) -> str:
        """What the engine calls it."""
        return "chunk"

    @property
    def arguments(self) -> dict[str, Any]:
        """What the engine's job is told beside the stage."""
        return {
            "view": self.view,
            "size_px": self.size_px,
            "samples": self.samples,
            "seed": self.number,
        }


class Readers(Protocol):
    """Those who trace readings: one engine, workers of this machine or of a cluster."""

    @property
    def name(self) -> str:
        """The engine that every one of them runs: "cuda", "llvm" or "scalar"."""
        ...

    @property
    def hands(self) -> int:
        """How many of them work side by side."""
        ...

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """Do a job on a stage with each of the arguments; results in their order.

        Raises EngineError if one cannot be done.
        """
        ...


class Crew(Readers, Protocol):
    """Those who do tasks too."""

    @property
    def room(self) -> int:
        """Tasks that can be given now without anyone standing in line for long."""
        ...

    def give(self, task: Task) -> None:
        """Hand over a task; returns at once."""
        ...

    def take(self) -> tuple[Task, Layers]:
        """Wait for any task that is done. Raises EngineError if one cannot be done."""
        ...

    def forget(self) -> None:
        """Drop all that was given and not taken: the run that wanted it is over."""
        ...


class Alone:
    """One engine that does tasks, while it is asked for the result."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._task: Task | None = None

    @property
    def name(self) -> str:
        """Of the engine."""
        return self._engine.name

    hands = 1

    @property
    def room(self) -> int:
        """One task, or none."""
        return 1 if self._task is None else 0

    def give(self, task: Task) -> None:
        """Remember the task."""
        self._task = task

    def take(self) -> tuple[Task, Layers]:
        """Do it. Raises EngineError if the engine fails."""
        task, self._task = self._task, None
        assert task is not None  # nobody asks for what was not given
        return task, self._engine.call(task.job, task.stage, task.arguments)

    def forget(self) -> None:
        """Drop the task."""
        self._task = None

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """One after the other."""
        return self._engine.read(job, stage, chunks)


class Ahead:
    """One engine that does tasks, the next one while the result of the last is put away."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._tasks: deque[Task] = deque()  # the engine has begun the first of them

    @property
    def name(self) -> str:
        """Of the engine."""
        return self._engine.name

    hands = 1

    @property
    def room(self) -> int:
        """One task under way, and one that waits."""
        return 2 - len(self._tasks)

    def give(self, task: Task) -> None:
        """Have the engine begin, unless it is at work."""
        self._tasks.append(task)
        if len(self._tasks) == 1:
            self._begin()

    def take(self) -> tuple[Task, Layers]:
        """Wait for the first one. Raises EngineError if the engine fails."""
        task = self._tasks.popleft()
        layers = self._engine.finish()
        if self._tasks:
            self._begin()
        return task, layers

    def _begin(self) -> None:
        task = self._tasks[0]
        self._engine.begin(task.job, task.stage, task.arguments)

    def forget(self) -> None:
        """Drop all tasks."""
        self._tasks.clear()
        self._engine.drop()

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """One after the other."""
        return self._engine.read(job, stage, chunks)
