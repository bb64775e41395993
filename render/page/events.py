"""What every open tab is told: that the set changed, or that a picture has grown."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from typing import Any

MOST_TABS = 16
MOST_WAITING = 200  # events that a tab may lag behind; then the oldest go
LOOK_EVERY_S = 0.5  # whether the program is about to end
ALIVE_EVERY_S = 15.0  # something is sent, so that a lost tab is noticed

Event = tuple[str, Any]


class Hub:
    """Hands events from any thread to the tabs that listen."""

    def __init__(self) -> None:
        self._tabs: dict[asyncio.Queue[Event], asyncio.AbstractEventLoop] = {}

    @property
    def full(self) -> bool:
        """Whether no more tabs can listen."""
        return len(self._tabs) >= MOST_TABS

    def tell(self, name: str, data: Any) -> None:
        """Send an event to every tab."""
        for tab, loop in list(self._tabs.items()):
            if not loop.is_closed():
                loop.call_soon_threadsafe(_put, tab, (name, data))

    async def listen(self, ending: Callable[[], bool]) -> AsyncIterator[str]:
        """Events as the lines of a server-sent stream, until the tab leaves or all ends.

        It ends at once where too many listen; many that come together have all been let in.
        """
        if self.full:
            return
        tab: asyncio.Queue[Event] = asyncio.Queue()
        self._tabs[tab] = asyncio.get_running_loop()
        quiet_s = 0.0
        try:
            yield ": here\n\n"
            while not ending():
                try:
                    name, data = await asyncio.wait_for(tab.get(), LOOK_EVERY_S)
                except TimeoutError:
                    quiet_s += LOOK_EVERY_S
                    if quiet_s >= ALIVE_EVERY_S:
                        quiet_s = 0.0
                        yield ": here\n\n"
                else:
                    quiet_s = 0.0
                    yield f"event: {name}\ndata: {json.dumps(data, ensure_ascii=False)}\n\n"
        finally:
            del self._tabs[tab]


def _put(tab: asyncio.Queue[Event], event: Event) -> None:
    while tab.qsize() >= MOST_WAITING:
        tab.get_nowait()
    tab.put_nowait(event)
