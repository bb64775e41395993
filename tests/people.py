"""Sitters for tests: few strands and small maps, so the same shape but quick to make."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from render.sitter import Body, Wishes, build_body

DATA = Path(__file__).resolve().parents[1] / "meshes"
STRANDS, MAP_WIDTH = 3000, 512
KEPT = 24  # bodies in memory, about 20 MB each


@lru_cache(maxsize=KEPT)
def made(wishes: Wishes) -> Body:
    """A small sitter; the same wishes give the same object again."""
    return build_body(wishes, data_dir=DATA, strand_count=STRANDS, map_width=MAP_WIDTH)


def small(model: str, **wishes: object) -> Body:
    """A small sitter by name and wishes."""
    return made(Wishes(model=model, **wishes))
