"""Readings by many hands: every chunk in line at once, results in the order of the chunks."""

from __future__ import annotations

import queue
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from render.trace.stage import Stage
from render.workers.line import Piece

AHEAD = 8  # tasks for each worker that may be under way: more than a set of a `proof` has

Tell = Callable[[Sequence[Piece]], None]


def collected(
    job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]], join: Tell, leave: Tell
) -> list[Any]:
    """Put a job in line for each of the arguments and wait for all of them.

    join, leave : put pieces in line, take them out again
    Raises what the first of them that failed says; the others are taken out of the line.
    """
    done: queue.SimpleQueue[tuple[int, Any]] = queue.SimpleQueue()

    def told(k: int) -> Callable[[Any], None]:
        return lambda result: done.put((k, result))

    pieces = [Piece(job, stage, each, told(k)) for k, each in enumerate(chunks)]
    found: dict[int, Any] = {}
    try:
        join(pieces)
        while len(found) < len(pieces):
            k, result = done.get()
            if isinstance(result, Exception):
                raise result
            found[k] = result
    finally:
        leave(pieces)
    return [found[k] for k in range(len(pieces))]
