"""Finished and half-finished light frames on disk, found again by what they show."""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np

from render.errors import OutputError
from render.trace.choice import user_cache
from render.trace.shelf import AddressShelf, FolderShelf, Shelf
from render.trace.tally import Floats, Tally, chunks_for

SUFFIX = ".npz"
EARLY = "early_"  # how the names of chunks begin that wait for those before them
# About 500 frames of 800 x 1000 pixels; a choice, no source.
LIMIT_BYTES = 8 << 30
_BROKEN = (Exception,)  # whatever a reader stumbles over in a broken file


class FrameStore:
    """A place with one file per light frame; in a folder the oldest go when it grows too large.

    Files appear whole or not at all, so that several programs may share the place. A file that
    cannot be read counts as absent.

    place       : folder, or an address that fsspec knows ("s3://bucket/frames"), without a limit;
                  None for what TENTHSTOP_FRAMES names, or `frames` in the user's cache folder
    limit_bytes : of a folder
    raises      : OutputError where nothing can be kept there
    """

    def __init__(self, place: Path | str | None = None, limit_bytes: int = LIMIT_BYTES) -> None:
        place = place or os.environ.get("TENTHSTOP_FRAMES") or user_cache() / "frames"
        self._shelf: Shelf
        self.folder: Path | None = None
        if isinstance(place, str) and "://" in place:
            self._shelf = AddressShelf(place)
        else:
            self.folder = Path(place)
            self._shelf = FolderShelf(self.folder)
        self.limit_bytes = None if self.folder is None else limit_bytes
        self._broken: set[str] = set()  # names whose files could not be read

    @property
    def where(self) -> str:
        """The place, as it is said."""
        return self._shelf.where

    def load(self, name: str, size_px: tuple[int, int]) -> Tally | None:
        """The frame stored under this name, or None; makes it the youngest."""
        try:
            with self._open(name) as source, np.load(source, allow_pickle=False) as content:
                chunks, colour, squares = (content[k] for k in ("chunks", "colour", "squares"))
            self._shelf.touch(name + SUFFIX)
        except _BROKEN:
            self._broken.add(name)
            return None
        width, height = size_px
        whole = colour.shape == (height, width, 3) and squares.shape == (height, width)
        typed = colour.dtype == squares.dtype == np.float32 and chunks.shape == ()
        if not (whole and typed and 0 < int(chunks) <= chunks_for(1 << 24)):
            return None
        return Tally(int(chunks), colour, squares)

    def early(self, name: str, size_px: tuple[int, int]) -> dict[int, Floats]:
        """Chunks stored beside this frame that were traced before their turn, by number."""
        width, height = size_px
        try:
            with self._open(name) as source, np.load(source) as content:
                numbers = [key for key in content.files if key.startswith(EARLY)]
                found = {int(key.removeprefix(EARLY)): content[key] for key in numbers}
                after = int(content["chunks"])
        except _BROKEN:
            return {}
        whole = {k: c for k, c in found.items() if c.shape == (height, width, 3)}
        return {k: c for k, c in whole.items() if k > after and c.dtype == np.float32}

    def save(self, name: str, tally: Tally, early: Mapping[int, Floats] | None = None) -> None:
        """Store a frame, and chunks that wait for their turn.

        Nothing is stored where another program has stored a longer exposure already, unless that
        could not be read here.
        """
        if name not in self._broken and self.chunks(name) > tally.chunks:
            return
        self._broken.discard(name)
        arrays = {"colour": tally.colour, "squares": tally.squares}
        arrays |= {f"{EARLY}{number}": chunk for number, chunk in (early or {}).items()}
        self.put(name, arrays | {"chunks": np.array(tally.chunks)})

    def arrays(self, name: str) -> dict[str, np.ndarray[Any, Any]] | None:
        """All arrays of a file that is no frame, or None; makes it the youngest."""
        try:
            with self._open(name) as source, np.load(source, allow_pickle=False) as content:
                found = {key: content[key] for key in content.files}
            self._shelf.touch(name + SUFFIX)
        except _BROKEN:
            return None
        return found

    def put(self, name: str, arrays: Mapping[str, np.ndarray[Any, Any]]) -> None:
        """Store arrays under a name: the whole file or none."""
        content = io.BytesIO()
        np.savez(content, allow_pickle=False, **arrays)
        self._shelf.write(name + SUFFIX, content.getvalue())
        self._trim(keep=name + SUFFIX)

    def entries(self) -> list[tuple[str, int]]:
        """Name and size [bytes] of every stored frame, oldest first."""
        return [(file.removesuffix(SUFFIX), size) for _, size, file in self._frames()]

    def size_bytes(self) -> int:
        """Size of all stored frames."""
        return sum(size for _, size, _ in self._frames())

    def clear(self) -> int:
        """Delete all frames, and drafts that nobody writes any more; returns how many frames."""
        frames = self._frames()
        for _, _, file in frames:
            self._shelf.remove(file)
        self._shelf.sweep()
        return len(frames)

    def _trim(self, keep: str) -> None:
        if self.limit_bytes is None:
            return
        listing = self._frames()
        total = sum(size for _, size, _ in listing)
        for _, size, file in listing:
            if total <= self.limit_bytes:
                return
            if file != keep:
                with contextlib.suppress(OutputError):  # the next one makes room
                    self._shelf.remove(file)
                    total -= size

    def _frames(self) -> list[tuple[float, int, str]]:
        """Time, size and file of every frame, oldest first."""
        return [each for each in self._shelf.listing() if each[2].endswith(SUFFIX)]

    def chunks(self, name: str) -> int:
        """Chunks in the frame stored under this name; 0 if there is none."""
        try:
            with self._open(name) as source, np.load(source, allow_pickle=False) as content:
                return int(content["chunks"])
        except _BROKEN:
            return 0

    def _open(self, name: str) -> IO[bytes]:
        return self._shelf.open(name + SUFFIX)
