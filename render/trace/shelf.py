"""Where the files of light frames lie: a folder, or any address that fsspec knows."""

from __future__ import annotations

import contextlib
import os
import time
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Protocol, cast
from uuid import uuid4

from render.errors import OutputError
from render.folders import unkept
from render.writing import MARK, is_quiet, put, sweep

DRAFT = ".part"  # how the names of files at an address end that are not whole yet
# What services call the time of a file: local, in memory, S3, Google's, WebDAV.
CHANGED = ("mtime", "created", "LastModified", "updated", "last_modified", "modified")
ACCEPTED = "accepted: a folder, or an fsspec address such as s3://bucket/frames"


class Shelf(Protocol):
    """Files by name; each is there whole or not at all, whoever else writes."""

    where: str  # as it is said

    def open(self, name: str) -> IO[bytes]:
        """A file to read from; raises OSError where there is none."""
        ...

    def write(self, name: str, content: bytes) -> None:
        """Put a file there, or a newer one in its place."""
        ...

    def remove(self, name: str) -> None:
        """Take a file away, if it is there."""
        ...

    def touch(self, name: str) -> None:
        """Make a file the youngest, where files have an age."""
        ...

    def listing(self) -> list[tuple[float, int, str]]:
        """Time, size [bytes] and name of every file that is whole, oldest first."""
        ...

    def sweep(self) -> None:
        """Clear away drafts whose writers are gone."""
        ...


class FolderShelf:
    """A folder of this machine or a shared one."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.where = folder, str(folder)

    def open(self, name: str) -> IO[bytes]:
        """See `Shelf`."""
        return (self.folder / name).open("rb")

    def write(self, name: str, content: bytes) -> None:
        """See `Shelf`; raises OutputError."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            put(self.folder / name, content, lasting=False)
        except OSError as problem:
            raise unkept(self.folder, "a light frame", problem) from None

    def remove(self, name: str) -> None:
        """See `Shelf`; raises OutputError."""
        try:
            (self.folder / name).unlink(missing_ok=True)
        except OSError as problem:
            reason = (problem.strerror or str(problem)).lower()
            raise OutputError(f"{self.folder / name}: cannot be deleted: {reason}") from None

    def touch(self, name: str) -> None:
        """See `Shelf`; a folder that can only be read keeps its ages."""
        with contextlib.suppress(OSError):
            os.utime(self.folder / name)

    def listing(self) -> list[tuple[float, int, str]]:
        """See `Shelf`."""
        found = []
        for file in self.folder.glob("*.*"):
            if file.name.startswith(MARK):
                continue
            with contextlib.suppress(OSError):  # another program has just deleted it
                state = file.stat()
                found.append((state.st_mtime, state.st_size, file.name))
        return sorted(found)

    def sweep(self) -> None:
        """See `Shelf`; also those of earlier versions of the program."""
        sweep(self.folder, (DRAFT,))


class AddressShelf:
    """Whatever fsspec reaches: object stores, other machines, memory. Files have no age here.

    Raises OutputError where the address means nothing or nobody answers.
    """

    def __init__(self, address: str) -> None:
        try:
            from fsspec.core import url_to_fs  # a part of the extra `cluster`
        except ImportError:
            raise OutputError(
                f"{address}: fsspec is not installed (pip install 'tenthstop[cluster]')"
            ) from None
        try:
            # What others have written a moment ago must be seen: no remembered listings.
            self._files, root = url_to_fs(address, use_listings_cache=False)
            self._files.makedirs(root, exist_ok=True)
        except Exception as problem:
            raise _refused(address, "light frames cannot be kept there", problem) from None
        self._root, self.where = root.rstrip("/"), self._files.unstrip_protocol(root)

    def open(self, name: str) -> IO[bytes]:
        """See `Shelf`."""
        try:
            return cast(IO[bytes], self._files.open(self._path(name), "rb"))
        except OSError:
            raise
        except Exception as problem:  # every service has errors of its own
            raise OSError(str(problem)) from None

    def write(self, name: str, content: bytes) -> None:
        """See `Shelf`: written beside it, then moved. Raises OutputError."""
        draft = self._path(f"{name}-{uuid4().hex}{DRAFT}")
        try:
            self._files.pipe_file(draft, content)
            self._files.mv(draft, self._path(name))
        except BaseException as problem:
            with contextlib.suppress(Exception):
                self._files.rm_file(draft)
            if not isinstance(problem, Exception):
                raise
            raise _refused(self.where, "a light frame cannot be kept there", problem) from None

    def remove(self, name: str) -> None:
        """See `Shelf`; raises OutputError."""
        try:
            self._files.rm_file(self._path(name))
        except FileNotFoundError:
            pass
        except Exception as problem:
            raise _refused(self.where, "a light frame cannot be deleted there", problem) from None

    def touch(self, name: str) -> None:
        """Nothing: an object store would empty the file."""

    def listing(self) -> list[tuple[float, int, str]]:
        """See `Shelf`; by name. Raises OutputError."""
        return sorted(
            (0.0, int(each["size"]), path.rsplit("/", 1)[-1])
            for path, each in self._found().items()
            if not path.endswith(DRAFT)
        )

    def sweep(self) -> None:
        """See `Shelf`; only where files have a time. Raises OutputError."""
        for path, told in self._found().items():
            if path.endswith(DRAFT) and is_quiet(_changed_s(told)):
                with contextlib.suppress(Exception):  # somebody else has, or it may not be
                    self._files.rm_file(path)

    def _found(self) -> dict[str, Any]:
        """What is told of every file there, by path."""
        try:
            return dict(self._files.find(self._root, detail=True))
        except Exception as problem:
            raise _refused(self.where, "light frames cannot be listed there", problem) from None

    def _path(self, name: str) -> str:
        return f"{self._root}/{name}"


def _changed_s(told: dict[str, Any]) -> float:
    """When a file was last changed, by the clock [s]; now where its service does not tell."""
    for changed in (told.get(key) for key in CHANGED):
        if isinstance(changed, datetime):
            return changed.timestamp()
        if isinstance(changed, int | float):
            return float(changed)
    return time.time()


def _refused(address: str, what: str, problem: Exception) -> OutputError:
    reason = str(problem).strip().splitlines() or [type(problem).__name__]
    return OutputError(f"{address}: {what}: {reason[0]} ({ACCEPTED})")
