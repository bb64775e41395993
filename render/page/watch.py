"""A thread that looks now and then whether a thing has changed, and says so."""

from __future__ import annotations

import threading
from collections.abc import Callable

EVERY_S = 2.0
PATIENCE_S = 5.0  # for the thread to end


class Watch:
    """Calls `changed` when what `stamp` answers is another thing than before."""

    def __init__(
        self, stamp: Callable[[], object], changed: Callable[[], None], every_s: float = EVERY_S
    ) -> None:
        self._stamp, self._changed, self._every_s = stamp, changed, every_s
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="tenthstop-watch", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def end(self) -> None:
        """Look no more."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        before = self._stamp()
        while not self._ended.wait(self._every_s):
            now = self._stamp()
            if now != before:
                before = now
                self._changed()
