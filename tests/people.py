"""Sitters for tests: few strands and small maps, so the same shape but quick to make."""

from __future__ import annotations

from pathlib import Path

from render.sitter import Body, Wishes, build_body
from render.sitter.wishes import Settled, settled

DATA = Path(__file__).resolve().parents[1] / "meshes"
STRANDS, MAP_WIDTH = 3000, 512
KEPT = 40  # bodies in memory, about 20 MB each
STORE: list[Path] = []  # the folder of this run of the tests, for all processes that share it

_made: dict[Settled, Body] = {}


def made(wishes: Wishes) -> Body:
    """A small sitter; what comes to the same gives the same object again."""
    key = settled(wishes, STRANDS, MAP_WIDTH)
    if key not in _made:
        while len(_made) >= KEPT:
            _made.pop(next(iter(_made)))
        _made[key] = build_body(
            wishes,
            data_dir=DATA,
            cache_dir=STORE[0] if STORE else None,
            strand_count=STRANDS,
            map_width=MAP_WIDTH,
        )
    return _made[key]


def small(model: str, **wishes: object) -> Body:
    """A small sitter by name and wishes."""
    return made(Wishes(model=model, **wishes))
