"""Finished and half-finished light frames on disk, found again by what they show."""

from __future__ import annotations

import os
import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from render.trace.choice import user_cache
from render.trace.tally import Floats, Tally, chunks_for

SUFFIX = ".npz"
EARLY = "early_"  # how the names of chunks begin that wait for those before them
# About 500 frames of 800 x 1000 pixels; a choice, no source.
LIMIT_BYTES = 8 << 30
_BROKEN = (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile)


class FrameStore:
    """A folder with one file per light frame; the oldest go when it grows too large.

    Files appear whole or not at all, so that several programs may share the folder. A file that
    cannot be read counts as absent.
    """

    def __init__(self, folder: Path | None = None, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder = Path(folder) if folder else user_cache() / "frames"
        self.limit_bytes = limit_bytes

    def load(self, name: str, size_px: tuple[int, int]) -> Tally | None:
        """The frame stored under this name, or None; makes it the youngest."""
        file = self._file(name)
        try:
            with file.open("rb") as source, np.load(source, allow_pickle=False) as content:
                chunks, colour, squares = (content[k] for k in ("chunks", "colour", "squares"))
            os.utime(file)
        except _BROKEN:
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
            with self._file(name).open("rb") as source, np.load(source) as content:
                numbers = [key for key in content.files if key.startswith(EARLY)]
                found = {int(key.removeprefix(EARLY)): content[key] for key in numbers}
                after = int(content["chunks"])
        except _BROKEN:
            return {}
        whole = {k: c for k, c in found.items() if c.shape == (height, width, 3)}
        return {k: c for k, c in whole.items() if k > after and c.dtype == np.float32}

    def save(self, name: str, tally: Tally, early: Mapping[int, Floats] | None = None) -> None:
        """Store a frame, and chunks that wait for their turn.

        Nothing is stored where another program has stored a longer exposure already.
        """
        if self.chunks(name) > tally.chunks:
            return
        arrays = {"colour": tally.colour, "squares": tally.squares}
        arrays |= {f"{EARLY}{number}": chunk for number, chunk in (early or {}).items()}
        self.put(name, arrays | {"chunks": np.array(tally.chunks)})

    def arrays(self, name: str) -> dict[str, np.ndarray[Any, Any]] | None:
        """All arrays of a file that is no frame, or None; makes it the youngest."""
        file = self._file(name)
        try:
            with file.open("rb") as source, np.load(source, allow_pickle=False) as content:
                found = {key: content[key] for key in content.files}
            os.utime(file)
        except _BROKEN:
            return None
        return found

    def put(self, name: str, arrays: Mapping[str, np.ndarray[Any, Any]]) -> None:
        """Store arrays under a name: the whole file or none."""
        self.folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            dir=self.folder, prefix=name, suffix=".part", delete=False
        ) as draft:
            try:
                np.savez(draft, allow_pickle=False, **arrays)
                draft.close()
                Path(draft.name).replace(self._file(name))
            except BaseException:
                draft.close()
                Path(draft.name).unlink(missing_ok=True)
                raise
        self._trim(keep=self._file(name))

    def entries(self) -> list[tuple[str, int]]:
        """Name and size [bytes] of every stored frame, oldest first."""
        return [(file.stem, size) for _, size, file in self._listing()]

    def size_bytes(self) -> int:
        """Size of all stored frames."""
        return sum(size for _, size, _ in self._listing())

    def clear(self) -> int:
        """Delete all frames; returns how many there were."""
        listing = self._listing()
        for _, _, file in listing:
            file.unlink(missing_ok=True)
        for draft in self.folder.glob("*.part"):
            draft.unlink(missing_ok=True)
        return len(listing)

    def _trim(self, keep: Path) -> None:
        listing = self._listing()
        total = sum(size for _, size, _ in listing)
        for _, size, file in listing:
            if total <= self.limit_bytes:
                return
            if file != keep:
                file.unlink(missing_ok=True)
                total -= size

    def _listing(self) -> list[tuple[float, int, Path]]:
        """Time, size and file of every frame, oldest first."""
        found = []
        for file in self.folder.glob(f"*{SUFFIX}"):
            try:
                state = file.stat()
            except OSError:
                continue  # another program has just deleted it
            found.append((state.st_mtime, state.st_size, file))
        return sorted(found)

    def chunks(self, name: str) -> int:
        """Chunks in the frame stored under this name; 0 if there is none."""
        try:
            with (
                self._file(name).open("rb") as source,
                np.load(source, allow_pickle=False) as content,
            ):
                return int(content["chunks"])
        except _BROKEN:
            return 0

    def _file(self, name: str) -> Path:
        return self.folder / f"{name}{SUFFIX}"
