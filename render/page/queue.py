"""One thread that has the engine: newest set first, work that nobody waits for any more dropped."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from render.errors import EngineError, TenthstopError
from render.page.pictures import Pictures, Wanted
from render.page.standing import Standing, with_bounce
from render.page.told import FrameState
from render.trace import Engine

PATIENCE_S = 5.0  # for the thread to end
MOST_JOBS = 4  # that wait; each holds one of the server's threads


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be worked out for the present set."""

    number: int  # rises with every change
    standing: Standing
    frames: Wanted | None


@dataclass(frozen=True, slots=True)
class Ears:
    """Who is told; each is called from the queue's thread."""

    shown: Callable[[Asked], None]  # a set has its first picture, or needs none
    bounced: Callable[[Standing], None]
    grown: Callable[[dict[str, FrameState]], None]
    troubled: Callable[[str], None]


class Queue:
    """The thread; `show` gives it the newest set, `ask` one job between its own.

    engine : None where none works: then there is neither bounce nor picture
    """

    def __init__(self, engine: Engine | None, pictures: Pictures | None, ears: Ears) -> None:
        self._engine, self._pictures, self._ears = engine, pictures, ears
        self._changed = threading.Condition()
        self._newest: Asked | None = None
        self._jobs: deque[tuple[Callable[[Engine | None], Any], Future[Any]]] = deque()
        self._ended = False
        self._thread = threading.Thread(target=self._run, name="tenthstop-queue", daemon=True)

    def start(self) -> None:
        """Begin; the engine is started with it."""
        self._thread.start()

    def show(self, asked: Asked) -> None:
        """This set is the present one; work on older ones ends after its chunk."""
        with self._changed:
            self._newest = asked
            self._changed.notify_all()

    def ask(self, job: Callable[[Engine | None], Any]) -> Any:
        """Have a job done on the engine, before anything else, and wait for its result.

        Raises what the job raises, EngineError where the queue has ended.
        """
        future: Future[Any] = Future()
        with self._changed:
            if self._ended:
                raise EngineError("the page is being closed")
            if len(self._jobs) >= MOST_JOBS:
                raise EngineError("too much is asked for at once; ask again in a moment")
            self._jobs.append((job, future))
            self._changed.notify_all()
        return future.result()

    def end(self) -> None:
        """Stop after, or in the midst of, what is being done; the engine's process ends."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()
        if self._engine is not None:
            self._engine.abandon()
        if self._thread.is_alive():
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        try:
            if self._engine is None:
                self._work()
            else:
                with self._engine:
                    self._work()
        except TenthstopError as problem:  # also a cache that is full
            if not self._ended:
                self._ears.troubled(str(problem))
        finally:
            with self._changed:
                self._ended = True
                while self._jobs:
                    self._jobs.popleft()[1].set_exception(EngineError("the page is being closed"))

    def _work(self) -> None:
        done = 0
        while True:
            with self._changed:
                while not (self._ended or self._jobs or self._after(done)):
                    self._changed.wait()
                asked = self._newest
            if self._ended:
                return
            self._do_jobs()
            if asked is not None and asked.number > done:
                self._serve(asked)
                done = asked.number

    def _after(self, done: int) -> bool:
        return self._newest is not None and self._newest.number > done

    def _serve(self, asked: Asked) -> None:
        """First pictures, then the bounce, and the rest of the picture."""
        try:
            if not self._drawn(asked):
                return
            self._ears.shown(asked)
            if asked.standing.who.making:
                return  # whoever is being made needs the cores, and will need other pictures
            engine = self._engine
            if engine is not None and not asked.standing.traced:
                found = with_bounce(asked.standing, engine, lambda: self._superseded(asked))
                if found is not None:
                    self._ears.bounced(found)
            if not self._superseded(asked):
                self._refine(asked)
        except TenthstopError as problem:  # also a cache that is full
            if not self._ended:
                self._ears.troubled(str(problem))
                self._ears.shown(asked)  # as it is: the checks need no engine

    def _drawn(self, asked: Asked) -> bool:
        """Show what can be shown soon; False where a newer set is there."""
        if self._engine and self._pictures and asked.frames:
            for grown in self._pictures.sketch(asked.frames, self._engine):
                self._ears.grown(grown)
                if self._superseded(asked):
                    return False
        return not self._superseded(asked)

    def _refine(self, asked: Asked) -> None:
        pictures, frames = self._pictures, asked.frames
        if not (self._engine and pictures and frames and pictures.missing(frames)):
            return
        with closing(pictures.grow(frames, self._engine)) as chunks:
            for grown in chunks:
                self._ears.grown(grown)
                if self._superseded(asked):
                    return

    def _superseded(self, asked: Asked) -> bool:
        """Whether a newer set is there; jobs that wait are done first."""
        self._do_jobs()
        with self._changed:
            return self._ended or self._newest is not asked

    def _do_jobs(self) -> None:
        while True:
            with self._changed:
                if not self._jobs or self._ended:
                    return
                job, future = self._jobs.popleft()
            try:
                future.set_result(job(self._engine))
            except BaseException as problem:  # it belongs to whoever asked
                future.set_exception(problem)
