"""The line of pieces: a set is built by few workers, and nobody is idle while anything waits."""

from __future__ import annotations

from collections import defaultdict
from types import SimpleNamespace
from typing import Any

import pytest

from render.workers.line import Line, Piece
from render.workers.reading import collected


def waiting(**sets: int) -> Line:
    """A line with so many pieces of each set, numbered."""
    line = Line()
    for key, count in sets.items():
        stage: Any = SimpleNamespace(key=key)
        line.waiting += [Piece("chunk", stage, {"seed": k}, print) for k in range(count)]
    return line


def name(piece: Piece | None) -> str:
    return "" if piece is None else f"{piece.set_key}{piece.arguments['seed']}"


def test_everyone_keeps_to_a_set_and_helps_at_the_end() -> None:
    """Truth by hand: two workers in turn build a set each, then share the third from both ends."""
    line = waiting(a=3, b=3, c=4)
    done: dict[str, list[str]] = defaultdict(list)
    for _ in range(5):
        for worker in ("one", "two"):
            done[worker].append(name(line.next_for(worker)))
    assert done["one"] == ["a0", "a1", "a2", "c0", "c1"]
    assert done["two"] == ["b0", "b1", "b2", "c3", "c2"]
    assert line.next_for("one") is None


def test_a_helper_takes_a_long_piece_but_not_one_far_from_its_turn() -> None:
    """Truth: of a set's next eight the last; so few results wait long for those before them."""
    line = waiting(a=20)
    assert name(line.next_for("one")) == "a0"
    assert name(line.next_for("two", idle=False)) == ""
    assert name(line.next_for("two")) == "a8"
    assert name(line.next_for("three")) == "a9"


def test_the_set_of_a_lost_worker_is_anybodys() -> None:
    line = waiting(a=3, b=1)
    assert name(line.next_for("lost")) == "a0"
    line.keep(["one"])
    assert name(line.next_for("one")) == "a1"


def test_a_failed_reading_takes_the_others_out_of_the_line() -> None:
    line, stage = Line(), SimpleNamespace(key="a")

    def join(pieces: Any) -> None:
        line.waiting.extend(pieces)
        line.waiting.pop(0).deliver(ValueError("no such place"))

    def leave(pieces: Any) -> None:
        line.waiting = [each for each in line.waiting if each not in pieces]

    parts: list[dict[str, Any]] = [{"seed": 0}, {"seed": 1}]
    with pytest.raises(ValueError, match="no such place"):
        collected("receptors", stage, parts, join, leave)  # type: ignore[arg-type]
    assert line.waiting == []
