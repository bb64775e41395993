"""The line in which work waits, and who does which piece: a set is built by few, not by all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any

from render.trace.stage import Stage

# A helper takes the last of so many waiting pieces of a set: the long ones come last, so that
# all end together, and few results come long before their turn. A choice.
HELP_WITHIN = 8


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One job on a stage, and who is told what came of it."""

    job: str
    stage: Stage
    arguments: Mapping[str, Any]
    deliver: Callable[[Any], None]
    set_key: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "set_key", self.stage.key)


class Line:
    """Pieces that wait, and the set that each worker has built; not safe between threads."""

    def __init__(self) -> None:
        self.waiting: list[Piece] = []
        self._built: dict[Hashable, str] = {}  # by worker

    def next_for(self, worker: Hashable, idle: bool = True) -> Piece | None:
        """Take the piece that this worker should do next; None where there is none for it.

        One of the set that it has built, else the first of a set that nobody has, else, if it is
        idle, it helps with the set that has most to do.
        """
        own = self._built.get(worker)
        others = {key for each, key in self._built.items() if each != worker}
        found = next((p for p in self.waiting if p.set_key == own), None)
        found = found or next((p for p in self.waiting if p.set_key not in others), None)
        if found is None and idle and self.waiting:
            found = self._of_most()
        if found is not None:
            self.waiting.remove(found)
            self._built[worker] = found.set_key
        return found

    def keep(self, workers: Collection[Hashable]) -> None:
        """Forget what workers have built that are gone."""
        self._built = {each: key for each, key in self._built.items() if each in workers}

    def _of_most(self) -> Piece:
        most, _ = Counter(piece.set_key for piece in self.waiting).most_common(1)[0]
        return [piece for piece in self.waiting if piece.set_key == most][:HELP_WITHIN][-1]
