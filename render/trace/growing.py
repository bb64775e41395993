"""Light frames on the way: chunks come in any order and are added in theirs."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, field

from render.trace.store import FrameStore
from render.trace.tally import Floats, Tally

SAVE_EVERY_S = 2.0  # at most this much work is lost


@dataclass(slots=True, eq=False)
class Growing:
    """A frame that chunks are added to.

    Sums of floats depend on their order, so a chunk that comes early waits for those before it: of
    the same chunks the frame is the same bit for bit, whoever traced them and when. Chunks of
    lights that are traced together have other random numbers than those of each light alone.
    """

    stored_name: str
    size_px: tuple[int, int]
    tally: Tally
    early: dict[int, Floats] = field(default_factory=dict)
    promised: int = 0  # chunks that are there or under way
    saved: bool = True
    passed: dict[int, Tally] = field(default_factory=dict)  # as it was at those asked for
    _asked: set[int] = field(default_factory=set)

    @staticmethod
    def of(store: FrameStore, stored_name: str, size_px: tuple[int, int]) -> Growing:
        """The frame as far as it is stored, early chunks included."""
        tally = store.load(stored_name, size_px) or Tally.empty(size_px)
        early = store.early(stored_name, size_px)
        return Growing(stored_name, size_px, tally, early, promised=tally.chunks)

    def ask(self, chunks: int) -> None:
        """Remember the frame as it is, or will be, with so many chunks, however long it grows."""
        self._asked.add(chunks)
        self._look()

    def has(self, number: int) -> bool:
        """Whether the chunk with this number is here."""
        return number < self.tally.chunks or number in self.early

    def add(self, number: int, chunk: Floats) -> None:
        """Take a chunk (h, w, 3) and add all whose turn it is."""
        if self.has(number):
            return
        self.early[number], self.saved = chunk, False
        while self.tally.chunks in self.early:
            self.tally = self.tally.plus(self.early.pop(self.tally.chunks))
            self._look()

    def _look(self) -> None:
        if self.tally.chunks in self._asked:
            self._asked.remove(self.tally.chunks)
            self.passed[self.tally.chunks] = self.tally


class Keeper:
    """Saves what is new, at most every few seconds."""

    def __init__(self, store: FrameStore) -> None:
        self._store = store
        self._saved_at = time.monotonic()

    def save_sometimes(self, frames: Iterable[Growing]) -> None:
        """Save those frames if the last time is long enough ago."""
        if time.monotonic() - self._saved_at > SAVE_EVERY_S:
            self.save(frames)

    def save(self, frames: Iterable[Growing]) -> None:
        """Save those frames that hold something new."""
        for frame in frames:
            if not frame.saved:
                self._store.save(frame.stored_name, frame.tally, frame.early)
                frame.saved = True
        self._saved_at = time.monotonic()
