"""One thread that has the engine: newest set first, work that nobody waits for any more dropped."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from render.errors import TenthstopError
from render.page.hand import Hand
from render.page.jobs import Job, Jobs
from render.page.pictures import Pictures, Wanted
from render.page.sketching import Heard, Sketcher
from render.page.standing import Standing, with_bounce
from render.page.told import FrameState
from render.trace import Engine

PATIENCE_S = 5.0  # for the thread to end
LOOK_EVERY_S = 0.2  # whether first pictures are still waited for


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
        self.jobs = Jobs(self._changed)
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

    def ask(self, job: Job) -> Any:
        """As `Jobs.ask`."""
        return self.jobs.ask(job)

    def ask_patiently(self, job: Job, given_up: Callable[[], bool]) -> Any:
        """As `Jobs.ask_patiently`."""
        return self.jobs.ask_patiently(job, given_up)

    def end(self) -> None:
        """Stop after, or in the midst of, what is being done; the engine's process ends."""
        self.jobs.end()
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
            if not self.jobs.ended:
                self._ears.troubled(str(problem))
        finally:
            self.jobs.refuse()

    def _work(self) -> None:
        done = 0
        while True:
            with self._changed:
                while not (self.jobs.ended or self.jobs.soon or self._after(done)):
                    rest_s = self._hand.rest_s  # once: it may end between two looks
                    if self.jobs.patient and not rest_s:
                        break
                    self._changed.wait(rest_s or None)
                asked = self._newest
            if self.jobs.ended:
                return
            self.jobs.do_soon(self._engine)
            if asked is not None and asked.number > done:
                self._serve(asked)
                done = asked.number
            elif self._can_be_patient:
                self.jobs.do_patient(self._engine)

    @property
    def _can_be_patient(self) -> bool:
        """Whether a job waits that is done when there is time, and there is."""
        return bool(self.jobs.patient) and not self._hand.rest_s

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
            if not self.jobs.ended:
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
            self.jobs.do_soon(self._engine)
            with self._changed:
                if self.jobs.ended or self._newest is not asked:
                    return True
                left = self._hand.rest_s
                if not left:
                    return False
                if not self.jobs.soon:
                    self._changed.wait(left)
