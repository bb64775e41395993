"""Files take their place whole or not at all, and drafts of programs that died are cleared away."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import stat
import time
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: drafts are known by their age alone
    fcntl = None  # type: ignore[assignment]

MARK = ".tenthstop-"  # how the names of drafts begin
# Seconds that nothing was written to a draft before it is looked at: its writer locks it at once.
QUIET_S = 600.0
WAIT_S, LOOK_S = 5.0, 0.01  # for others who write in the same folder; a scene takes milliseconds
LONG_S = 86400.0  # the same where files cannot be locked; no picture takes a day to be written
_NO_SYNC = (errno.EINVAL, errno.ENOTSUP, errno.ENOSYS)  # of places that cannot be told to sync


@contextlib.contextmanager
def in_place_of(file: Path, lasting: bool = True, new: bool = False) -> Iterator[Path]:
    """A draft beside a file that takes its place when the block ends well, and goes otherwise.

    It has the permissions of the file, or those of any new one; a lock says that it has a writer.

    lasting : what was written reaches the disk first, then its name: after a power cut the file is
              the old one or the new one. Without it a cut can leave it empty: for what is checked
              when it is read and can be made again.
    new     : a file that has come there meanwhile stays: then FileExistsError
    Raises OSError; the file is then as it was.
    """
    part = file.parent / f"{MARK}{os.getpid()}-{os.urandom(6).hex()}{file.suffix}"
    handle = os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        try:
            _lock(handle)
            yield part
            if lasting:
                _sync(handle)
        finally:
            if os.name == "nt":  # an open file cannot be moved there
                os.close(handle)
        if new:
            _move_to_new(part, file)
        else:
            with contextlib.suppress(OSError):  # it is new, or its place knows no permissions
                shutil.copymode(file, part)
            part.replace(file)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    finally:
        if os.name != "nt":
            os.close(handle)
    if lasting:
        _sync_names(file.parent)
    sweep(file.parent)


def put(file: Path, content: bytes, lasting: bool = True) -> None:
    """Write a whole file; see `in_place_of`."""
    with in_place_of(file, lasting) as part:
        part.write_bytes(content)


@contextlib.contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """A block that reads a file of a folder and writes it: others of ours wait for its end.

    Nobody waits for longer than `WAIT_S`, nor where folders cannot be locked.
    """
    handle = None
    if fcntl is not None:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
    try:
        if handle is not None:
            _wait_for(handle)
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _wait_for(handle: int) -> None:
    ends = time.monotonic() + WAIT_S
    while time.monotonic() < ends:
        with contextlib.suppress(BlockingIOError):
            _lock(handle)
            return
        time.sleep(LOOK_S)


def sweep(folder: Path, foreign: tuple[str, ...] = ()) -> int:
    """Clear away drafts whose writers are gone; returns how many. Never raises OSError.

    foreign : how the names of other drafts end, which are known by their age alone
    """
    gone = 0
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):  # noqa: PTH208 - names alone, which is quick
            if name.startswith(MARK):
                left = _left(folder / name)
            else:
                left = name.endswith(foreign) and _is_old(folder / name)
            if left:
                with contextlib.suppress(OSError):
                    (folder / name).unlink()
                    gone += 1
    return gone


def _move_to_new(part: Path, file: Path) -> None:
    """Give a draft a name that nobody has; raises FileExistsError."""
    if os.name == "nt":
        part.rename(file)  # which refuses a name that is taken, there
        return
    try:
        os.link(part, file)
    except FileExistsError:
        raise
    except OSError:  # a place without links
        if os.path.lexists(file):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
        part.replace(file)
    else:
        part.unlink()


def is_quiet(changed_s: float, quiet_s: float = QUIET_S) -> bool:
    """Whether a time of the clock lies long enough back, or ahead: clocks are set."""
    return abs(time.time() - changed_s) > quiet_s


def _is_old(file: Path, quiet_s: float = QUIET_S) -> bool:
    """Whether this is a plain file that nothing was written to for long."""
    try:
        told = file.lstat()
    except OSError:
        return False
    return stat.S_ISREG(told.st_mode) and is_quiet(told.st_mtime, quiet_s)


def _left(draft: Path) -> bool:
    """Whether nobody writes a draft any more."""
    if not _is_old(draft):
        return False
    try:
        handle = os.open(draft, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
    except OSError:
        return False
    try:
        return _lock(handle) or _is_old(draft, LONG_S)
    except BlockingIOError:
        return False
    finally:
        os.close(handle)


def _lock(handle: int) -> bool:
    """Lock an open file until it is closed or its process ends; False where that cannot be.

    Raises BlockingIOError where another process has it.
    """
    if fcntl is None:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise
    except OSError:
        return False
    return True


def _sync(handle: int) -> None:
    try:
        os.fsync(handle)
    except OSError as problem:
        if problem.errno not in _NO_SYNC:
            raise


def _sync_names(folder: Path) -> None:
    """Have a folder's names reach the disk; the file itself is in its place by now."""
    if os.name == "nt":  # folders cannot be opened there
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
