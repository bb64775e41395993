"""Whether somebody is dragging a thing on the page: work that can wait then does."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

# No chunk is begun for so long after a place was tried, so that none is under way when the thing is
# let go; common practice has no figure: a hand that looks for longer will hardly mind.
REST_S = 1.5
MOST_S = 30.0  # of tries without a pause; after that the picture is finished all the same
LOOK_EVERY_S = 0.1  # whether the work is still wanted


class Hand:
    """Told of every place that is tried; knows how long others should rest."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._first = self._last = -float("inf")

    def moves(self) -> None:
        """A place is being tried."""
        with self._lock:
            now = self._clock()
            if now - self._last > REST_S:
                self._first = now
            self._last = now

    def lets_go(self) -> None:
        """What was tried has been taken, or something else has."""
        with self._lock:
            self._last = -float("inf")

    @property
    def rest_s(self) -> float:
        """How much longer no long work should be begun [s]; 0 where nothing is dragged."""
        with self._lock:
            until = min(self._last + REST_S, self._first + MOST_S)
            return max(0.0, until - self._clock())

    def wait(self, given_up: Callable[[], bool]) -> bool:
        """Rest while something is dragged; whether the work was given up."""
        while not given_up():
            left = self.rest_s
            if not left:
                return False
            time.sleep(min(left, LOOK_EVERY_S))
        return True
