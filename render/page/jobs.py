"""Jobs for the engine that somebody waits for: some at once, some when there is time."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from render.errors import EngineError
from render.trace import Engine

LOOK_EVERY_S = 0.2  # whether a patient job is still wanted
CLOSING = "the page is being closed"
GIVEN_UP = "it was given up"
MOST_JOBS = 4  # that wait; each holds one of the server's threads

Job = Callable[[Engine | None], Any]
Waiting = tuple[Job, "Future[Any]"]


class Jobs:
    """Jobs in two lines, done by the thread that has the engine.

    changed : notified when there is something to do
    """

    def __init__(self, changed: threading.Condition) -> None:
        self._changed = changed
        self.soon: deque[Waiting] = deque()
        self.patient: deque[Waiting] = deque()
        self.ended = False

    def ask(self, job: Job) -> Any:
        """Have a job done before anything else, and wait for its result.

        Raises what the job raises, EngineError where no more are done, or too many wait.
        """
        future: Future[Any] = Future()
        with self._changed:
            if self.ended:
                raise EngineError(CLOSING)
            if len(self.soon) >= MOST_JOBS:
                raise EngineError("too much is asked for at once; ask again in a moment")
            self.soon.append((job, future))
            self._changed.notify_all()
        return future.result()

    def ask_patiently(self, job: Job, given_up: Callable[[], bool]) -> Any:
        """Have a short job done when there is nothing else to do, and wait for it.

        given_up : whether nobody waits for it any more; looked at while it has not begun
        Raises what the job raises, EngineError where no more are done or it was given up.
        """
        if given_up():
            raise EngineError(GIVEN_UP)
        future: Future[Any] = Future()
        with self._changed:
            if self.ended:
                raise EngineError(CLOSING)
            self.patient.append((job, future))
            self._changed.notify_all()
        while True:
            try:
                return future.result(LOOK_EVERY_S)
            except TimeoutError:
                if given_up() and future.cancel():
                    raise EngineError(GIVEN_UP) from None

    def end(self) -> None:
        """No more are taken; those that wait are told when `refuse` is called."""
        with self._changed:
            self.ended = True
            self._changed.notify_all()

    def refuse(self) -> None:
        """Tell all that wait that theirs is not done any more."""
        with self._changed:
            self.ended = True
            for _, future in [*self.soon, *self.patient]:
                if future.set_running_or_notify_cancel():
                    future.set_exception(EngineError(CLOSING))

    def do_soon(self, engine: Engine | None) -> None:
        """Do all that should be done before anything else."""
        while self._do_next(self.soon, engine):
            pass

    def do_patient(self, engine: Engine | None) -> None:
        """Do the patient job that waits longest."""
        self._do_next(self.patient, engine)

    def _do_next(self, waiting: deque[Waiting], engine: Engine | None) -> bool:
        """Do the job that waits longest; False where none does."""
        with self._changed:
            if not waiting or self.ended:
                return False
            job, future = waiting.popleft()
        if not future.set_running_or_notify_cancel():
            return True
        try:
            future.set_result(job(engine))
        except BaseException as problem:  # it belongs to whoever asked
            future.set_exception(problem)
        return True
