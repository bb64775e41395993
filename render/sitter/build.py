"""From a few wishes to a whole body, made once and kept."""

from __future__ import annotations

from pathlib import Path

from render.sitter.body import Body
from render.sitter.cast import CAST
from render.sitter.choices import HAIR_COLOURS
from render.sitter.face.gaze import looking_at
from render.sitter.shape.head_data import data_version
from render.sitter.store import cache_file, digest_of, load_body, save_body
from render.sitter.wishes import Settled, Wishes, settled

MAKE = 26  # raise when the same wishes give another body
STRANDS = 70_000  # hairs on a head
MAP_WIDTH = 2048  # width of the skin maps [texels]


def build_body(
    wishes: Wishes,
    *,
    data_dir: Path,
    cache_dir: Path | None = None,
    gaze_m: tuple[float, float, float] | None = (0.0, 0.0, 2.4),
    strand_count: int = STRANDS,
    map_width: int = MAP_WIDTH,
) -> Body:
    """A sitter as plain geometry in metres, origin midway between the eyes, +z forward.

    data_dir  : folder with the head data
    cache_dir : folder that keeps finished bodies (None: do not keep)
    gaze_m    : point the eyes look at, in sitter space [m] (None: straight ahead)

    Raises MeshError for an unknown name, a number out of range, and missing or unreadable head
    data. The same arguments give the same body.
    """
    wish = settled(wishes, strand_count, map_width)
    body = _kept_body(wish, data_dir, _version(wish, data_dir), cache_dir)
    return looking_at(body, gaze_m)


def is_made(wishes: Wishes, *, data_dir: Path, cache_dir: Path) -> bool:
    """Whether the body of these wishes is kept, so that `build_body` takes no time.

    Raises MeshError as that does.
    """
    wish = settled(wishes, STRANDS, MAP_WIDTH)
    return cache_file(cache_dir, _version(wish, data_dir)).is_file()


def _version(wish: Settled, data_dir: Path) -> str:
    pigment = HAIR_COLOURS[wish.hair_colour]
    return digest_of((MAKE, data_version(data_dir), wish, CAST[wish.model], pigment))


def _kept_body(wish: Settled, data_dir: Path, version: str, cache_dir: Path | None) -> Body:
    """The body from the cache, or made and kept there; eyes straight ahead."""
    file = None if cache_dir is None else cache_file(cache_dir, version)
    body = None if file is None else load_body(file)
    if body is None or body.version != version:
        # Making a body needs large libraries that a kept one does without.
        from render.sitter.assembly import make_body

        body = make_body(wish, CAST[wish.model], data_dir, version)
        if file is not None:
            save_body(file, body)
    return body
