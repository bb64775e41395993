"""First pictures of what has moved, by an engine of their own: nothing else keeps them waiting."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from render.errors import TenthstopError
from render.page.pictures import Pictures, Wanted
from render.page.told import FrameState
from render.trace import Engine

PATIENCE_S = 5.0  # for the thread to end


@dataclass(frozen=True, slots=True)
class Heard:
    """Who is told; each is called from the thread of the sketches."""

    grown: Callable[[dict[str, FrameState]], None]
    sketched: Callable[[Wanted], None]  # these frames have their first pictures
    troubled: Callable[[str], None]


class Sketcher:
    """A thread with an engine that draws the newest frames coarsely, and nothing else.

    A set that is traced chunk by chunk beside it gives way: its engine works with less priority.
    """

    def __init__(self, engine: Engine, pictures: Pictures, heard: Heard) -> None:
        self._engine, self._pictures, self._heard = engine, pictures, heard
        self._changed = threading.Condition()
        self._newest: Wanted | None = None
        self._ended = False
        self._thread = threading.Thread(target=self._run, name="tenthstop-sketches", daemon=True)

    def start(self) -> None:
        """Begin; the engine is started with it."""
        self._thread.start()

    def show(self, frames: Wanted) -> None:
        """These frames are the present ones."""
        with self._changed:
            if frames is not self._newest:
                self._newest = frames
                self._changed.notify_all()

    @property
    def works(self) -> bool:
        """Whether first pictures come; not where the engine cannot be started."""
        return self._thread.is_alive()

    def end(self) -> None:
        """Stop at once; the engine's process ends."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()
        self._engine.abandon()
        if self._thread.is_alive():
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        try:
            with self._engine:
                self._work()
        except TenthstopError as problem:
            if not self._ended:
                self._heard.troubled(str(problem))

    def _work(self) -> None:
        done: Wanted | None = None
        while True:
            with self._changed:
                while not (self._ended or self._newest is not done):
                    self._changed.wait()
                if self._ended:
                    return
                frames = self._newest
            if frames is not None:
                self._draw(frames)
            done = frames

    def _draw(self, frames: Wanted) -> None:
        try:
            for grown in self._pictures.sketch(frames, self._engine):
                self._heard.grown(grown)
                if self._newest is not frames:
                    return
        except TenthstopError as problem:  # the finer pictures may still come
            if self._ended:
                return
            self._heard.troubled(str(problem))
        self._heard.sketched(frames)
