"""The power goes: what a disk may hold then, by what was told to reach it and in which order."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from tests.faults.runs import Bench, Case
from tests.faults.space import lay
from tests.faults.writers import CARDS, WRITERS, Writer

EMPTY = b""  # what a disk may hold of a file that was never told to reach it


class Disk:
    """What may be there under one name after a cut, moment by moment.

    A file's content is sure once it was synced, as it then was; a name is sure once its folder was
    synced. Until then both the old file and the new one may be there (POSIX fsync and rename).
    """

    def __init__(self, file: Path) -> None:
        self.file = file
        self.moments: list[set[bytes | None]] = []
        self._synced: dict[int, bytes] = {}
        self._sure = self._named = self._present()
        if self._sure is not None:
            self._synced[self._sure] = file.read_bytes()

    def _present(self) -> int | None:
        return self.file.stat().st_ino if self.file.exists() else None

    def synced(self, handle: int) -> None:
        """A file or a folder has reached the disk."""
        told = os.fstat(handle)
        if stat.S_ISDIR(told.st_mode):
            if told.st_ino == self.file.parent.stat().st_ino:
                self._sure = self._named
        else:
            self._synced[told.st_ino] = os.pread(handle, told.st_size, 0)
        self.look()

    def renamed(self) -> None:
        """A name may have come to stand for another file."""
        self._named = self._present()
        self.look()

    def look(self) -> None:
        """Remember what a cut could leave now."""
        self.moments.append({self._content(self._sure), self._content(self._named)})

    def _content(self, number: int | None) -> bytes | None:
        return None if number is None else self._synced.get(number, EMPTY)


@contextmanager
def watched(file: Path) -> Iterator[Disk]:
    """A disk that hears of all that is synced and moved."""
    disk = Disk(file)

    def heard(call: str, tell: Callable[[Any], None]) -> Callable[..., Any]:
        known = getattr(os, call)

        def called(what: Any, *rest: Any, **options: Any) -> Any:
            result = known(what, *rest, **options)
            tell(what)
            return result

        return called

    moved = {call: heard(call, lambda _: disk.renamed()) for call in ("replace", "link", "rename")}
    with patch.multiple(os, fsync=heard("fsync", disk.synced), **moved):
        yield disk


def cut(writer: Writer, folder: Path) -> str:
    """Write a file and cut the power at every moment: what is wrong then, or nothing."""
    file = folder / writer.file
    lay(writer, file)
    with watched(file) as disk:
        writer.write(file)
    new = file.read_bytes()
    for each in folder.iterdir():
        each.unlink()
    for k, moment in enumerate(disk.moments):
        for content in moment:
            if content not in (writer.old, new):
                return f"after call {k + 1}: neither the old nor the new file"
    if not disk.moments or disk.moments[-1] != {new}:
        return "at the end the new file is not sure"
    return ""


def power(bench: Bench) -> Iterator[Case]:
    """A user's file is the old one or the new one, and the new one once it is said to be there."""
    folder = bench.folder / "power"
    folder.mkdir()
    for writer in WRITERS + CARDS:
        yield Case(writer.name, cut(writer, folder))
