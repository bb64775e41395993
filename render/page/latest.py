"""A thread that works on the newest thing it was given and forgets the older ones."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")
PATIENCE_S = 5.0  # for the thread to end


class Latest(Generic[T]):
    """Calls `work` with the newest thing, one at a time; its errors go to `troubled`."""

    def __init__(self, name: str, work: Callable[[T], None], troubled: Callable[[str], None]):
        self._work, self._troubled = work, troubled
        self._changed = threading.Condition()
        self._newest: T | None = None
        self._ended = False
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def give(self, thing: T) -> None:
        """The newest thing; one that is waiting is forgotten, one that is worked on is not."""
        with self._changed:
            self._newest = thing
            self._changed.notify_all()

    def end(self) -> None:
        """No more work; the thread ends after what it does."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()
        if self._thread.is_alive():
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._ended or self._newest is not None)
                if self._ended:
                    return
                thing, self._newest = self._newest, None
            assert thing is not None
            try:
                self._work(thing)
            except Exception as problem:  # a thread that dies in silence would never be missed
                self._troubled(f"the checks failed: {type(problem).__name__}: {problem}")
