"""Connections to the page: those that never come to the point are closed, and make room."""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0  # for the head of a request to arrive; browsers send it at once
MOST_OPEN = 128  # connections; 16 tabs of a browser open at most 6 each


class Connection(H11Protocol):
    """A connection that has to say what it wants within `HEAD_S`.

    Without it, somebody who opens hundreds and says nothing would hold all that a program may open.
    Where there are more than `MOST_OPEN`, the one that has been silent for longest goes first, so
    that somebody who has something to say is let in.
    """

    heard_s = 0.0  # when something was last asked, or since when it is open; of the loop's clock

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody has come."""
        super().connection_made(transport)
        self.heard_s = self.loop.time()
        self._look_later()
        all_open = [each for each in self.connections if isinstance(each, Connection)]
        all_open = [each for each in all_open if not each.transport.is_closing()]
        if len(all_open) > MOST_OPEN:
            silent = [each for each in all_open if each.silent]
            min(silent, key=lambda each: each.heard_s, default=self).transport.close()

    def data_received(self, data: bytes) -> None:
        """They say something; only a whole head of a request counts."""
        super().data_received(data)
        if not self.silent:
            self.heard_s = self.loop.time()

    @property
    def silent(self) -> bool:
        """Whether nothing is being asked."""
        return self.cycle is None or self.cycle.response_complete

    def _look_later(self) -> None:
        self.loop.call_later(HEAD_S / 2, self._look)

    def _look(self) -> None:
        """Close it if the head of a request is overdue."""
        if self.transport.is_closing():
            return
        now = self.loop.time()
        if not self.silent:
            self.heard_s = now
        elif now - self.heard_s > HEAD_S:
            self.transport.close()
            return
        self._look_later()
