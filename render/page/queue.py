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
from render.page.hand import Hand
from render.page.pictures import Pictures, Wanted
from render.page.sketching import Heard, Sketcher
from render.page.standing import Standing, with_bounce
from render.page.told import FrameState
from render.trace import Engine

PATIENCE_S = 5.0  # for the thread to end
LOOK_EVERY_S = 0.2  # whether a patient job is still wanted
CLOSING = "the page is being closed"
GIVEN_UP = "it was given up"
MOST_JOBS = 4  # that wait; each holds one of the server's threads

Waiting = tuple[Callable[[Engine | None], Any], Future[Any]]


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
    quick  : another one for first pictures alone, so that no chunk keeps them waiting
    hand   : that may be dragging a thing; meanwhile no chunk is begun
    """

    def __init__(
        self,
        engine: Engine | None,
        pictures: Pictures | None,
        ears: Ears,
        quick: Engine | None = None,
        hand: Hand | None = None,
    ) -> None:
        self._engine, self._pictures, self._ears = engine, pictures, ears
        self._hand = hand or Hand()
        self._changed = threading.Condition()
        self._newest: Asked | None = None
        self._jobs: deque[Waiting] = deque()
        self._patient: deque[Waiting] = deque()
        self._ended = False
        self._sketched: Wanted | None = None  # have their first pictures
        heard = Heard(ears.grown, self._hear_sketched, ears.troubled)
        self._sketcher = Sketcher(quick, pictures, heard) if quick and pictures else None
        self._thread = threading.Thread(target=self._run, name="tenthstop-queue", daemon=True)

    def start(self) -> None:
        """Begin; the engine is started with it."""
        if self._sketcher:
            self._sketcher.start()
        self._thread.start()

    def glimpse(self, frames: Wanted | None) -> None:
        """These frames will be those of the next set: their first pictures may be drawn."""
        if self._sketcher and frames:
            self._sketcher.show(frames)

    def _hear_sketched(self, frames: Wanted) -> None:
        with self._changed:
            self._sketched = frames
            self._changed.notify_all()

    def show(self, asked: Asked) -> None:
        """This set is the present one; work on older ones ends after its chunk."""
        self._hand.lets_go()
        with self._changed:
            self._newest = asked
            self._changed.notify_all()
        self.glimpse(asked.frames)

    def ask(self, job: Callable[[Engine | None], Any]) -> Any:
        """Have a job done on the engine, before anything else, and wait for its result.

        Raises what the job raises, EngineError where the queue has ended.
        """
        future: Future[Any] = Future()
        with self._changed:
            if self._ended:
                raise EngineError(CLOSING)
            if len(self._jobs) >= MOST_JOBS:
                raise EngineError("too much is asked for at once; ask again in a moment")
            self._jobs.append((job, future))
            self._changed.notify_all()
        return future.result()

    def ask_patiently(
        self, job: Callable[[Engine | None], Any], given_up: Callable[[], bool]
    ) -> Any:
        """Have a short job done when the page itself has nothing to trace, and wait for it.

        given_up : whether nobody waits for it any more; looked at while it has not begun
        Raises what the job raises, EngineError where the queue has ended or it was given up.
        """
        if given_up():
            raise EngineError(GIVEN_UP)
        future: Future[Any] = Future()
        with self._changed:
            if self._ended:
                raise EngineError(CLOSING)
            self._patient.append((job, future))
            self._changed.notify_all()
        while True:
            try:
                return future.result(LOOK_EVERY_S)
            except TimeoutError:
                if given_up() and future.cancel():
                    raise EngineError(GIVEN_UP) from None

    def end(self) -> None:
        """Stop after, or in the midst of, what is being done; the engine's process ends."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()
        if self._sketcher:
            self._sketcher.end()
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
                for _, future in [*self._jobs, *self._patient]:
                    if future.set_running_or_notify_cancel():
                        future.set_exception(EngineError(CLOSING))

    def _work(self) -> None:
        done = 0
        while True:
            with self._changed:
                while not (self._ended or self._jobs or self._after(done) or self._can_be_patient):
                    self._changed.wait(self._hand.rest_s or None)
                asked = self._newest
            if self._ended:
                return
            self._do_jobs()
            if asked is not None and asked.number > done:
                self._serve(asked)
                done = asked.number
            elif self._can_be_patient:
                self._do_next(self._patient)

    @property
    def _can_be_patient(self) -> bool:
        """Whether a job waits that is done when there is time, and there is."""
        return bool(self._patient) and not self._hand.rest_s

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
        if self._sketcher and self._sketcher.works and asked.frames:
            return self._waited(asked)
        if self._engine and self._pictures and asked.frames:
            for grown in self._pictures.sketch(asked.frames, self._engine):
                self._ears.grown(grown)
                if self._superseded(asked):
                    return False
        return not self._superseded(asked)

    def _waited(self, asked: Asked) -> bool:
        """Wait for the first pictures, doing jobs meanwhile; False where a newer set is there."""
        assert self._sketcher is not None
        while not self._superseded(asked):
            with self._changed:
                if self._sketched is asked.frames or not self._sketcher.works:
                    return True
                self._changed.wait(LOOK_EVERY_S)
        return False

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
        """Whether a newer set is there; jobs that wait are done first, and a drag is waited for."""
        while True:
            self._do_jobs()
            with self._changed:
                if self._ended or self._newest is not asked:
                    return True
                left = self._hand.rest_s
                if not left:
                    return False
                if not self._jobs:
                    self._changed.wait(left)

    def _do_jobs(self) -> None:
        while self._do_next(self._jobs):
            pass

    def _do_next(self, waiting: deque[Waiting]) -> bool:
        """Do the job that waits longest; False where none does."""
        with self._changed:
            if not waiting or self._ended:
                return False
            job, future = waiting.popleft()
        if not future.set_running_or_notify_cancel():
            return True
        try:
            future.set_result(job(self._engine))
        except BaseException as problem:  # it belongs to whoever asked
            future.set_exception(problem)
        return True
