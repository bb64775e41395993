"""Read EXR: linear light, with its primaries where it names them."""

from __future__ import annotations

import io
import os
import re
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from render.combine.raw import Raw, check_size, refused
from render.errors import OutputError

Floats = NDArray[np.float32]
ERRORS = 2  # the error output, as the system numbers it
WARNING = re.compile(r"(?m)^Warning: Exception raised.*\n?")  # of the library's Python side
_OUTPUTS = threading.Lock()  # one at a time hears what the library says


def read_exr(file: Path) -> Raw:
    """Values of an EXR file. Raises PhotoError for what cannot be combined."""
    import OpenEXR  # a large library that most runs do not need

    with _library(file):
        found = OpenEXR.File(str(file), header_only=True)
        if len(found.parts) > 1:
            raise refused(file, f"{len(found.parts)} pictures in one file")
        header = found.header()
        shown, stored = header["displayWindow"], header["dataWindow"]
        for window in (shown, stored):
            check_size(file, *(int(v) for v in np.subtract(window[1], window[0]) + 1))
        primaries = _primaries(header)
        channels = OpenEXR.File(str(file)).channels()
    values, alpha = _colours(file, {name: channel.pixels for name, channel in channels.items()})
    values = _framed(values, shown, stored)
    alpha = None if alpha is None else _framed(alpha[..., None], shown, stored)[..., 0]
    return Raw(values, alpha, True, primaries=primaries)


@contextmanager
def _library(file: Path) -> Iterator[None]:
    """A block that calls the library. Raises PhotoError where that fails or complains, OutputError
    where there is no room to hear it.

    It prints its complaints and goes on with what it has: from C to the error output, from Python
    to the other one. What is said there meanwhile by others is passed on.
    """
    printed = io.StringIO()
    with _passing_file() as heard:
        try:
            with _OUTPUTS, redirect_stdout(printed), _into(heard.fileno()):
                yield
        except (RuntimeError, ValueError, TypeError, KeyError, OSError):
            raise refused(file, "a broken EXR", "a whole file") from None
        finally:
            heard.seek(0)
            said = heard.read()
            others, count = re.subn(re.escape(os.fsencode(file)) + rb": \(EXR_[^\n]*\n?", b"", said)
            if others:
                os.write(ERRORS, others)
            print(WARNING.sub("", printed.getvalue()), end="")
    if count or WARNING.search(printed.getvalue()):
        raise refused(file, "a broken EXR", "a whole file")


def _passing_file() -> IO[bytes]:
    """A file that is gone once it is closed."""
    try:
        return tempfile.TemporaryFile()
    except OSError:  # which is no fault of the picture
        raise OutputError(
            "no room for temporary files (accepted: room in /tmp, or elsewhere by TMPDIR)"
        ) from None


@contextmanager
def _into(handle: int) -> Iterator[None]:
    """A block in which the error output goes to an open file."""
    kept = os.dup(ERRORS)
    try:
        os.dup2(handle, ERRORS)
        yield
    finally:
        os.dup2(kept, ERRORS)
        os.close(kept)


def _colours(file: Path, found: dict[str, Any]) -> tuple[Floats, Floats | None]:
    """Colour (h, w, 1 or 3) and alpha (h, w) by the channels' names."""
    planes = {name: np.asarray(pixels, np.float32) for name, pixels in found.items()}
    for name, count in (("RGB", 3), ("RGBA", 3), ("Y", 1), ("YA", 1)):
        if name in planes:
            together = planes[name].reshape(*planes[name].shape[:2], -1)
            alpha = together[..., count] if together.shape[-1] > count else planes.get("A")
            return together[..., :count], alpha
    names = ", ".join(sorted(planes)[:8])
    raise refused(file, f"the channels {names}", "channels R, G, B, or Y, with or without A")


def _framed(values: Floats, shown: Any, stored: Any) -> Floats:
    """The stored window (h, w, c) within the shown one; what is not stored is black."""
    (left, top), (right, bottom) = (np.asarray(corner, int) for corner in shown)
    (x0, y0), (x1, y1) = (np.asarray(corner, int) for corner in stored)
    if (left, top, right, bottom) == (x0, y0, x1, y1):
        return values
    page = np.zeros((bottom - top + 1, right - left + 1, values.shape[-1]), np.float32)
    a, b, c, d = max(left, x0), min(right, x1), max(top, y0), min(bottom, y1)
    if a <= b and c <= d:
        part = values[c - y0 : d - y0 + 1, a - x0 : b - x0 + 1]
        page[c - top : d - top + 1, a - left : b - left + 1] = part
    return page


def _primaries(header: dict[str, Any]) -> tuple[float, ...]:
    found = header.get("chromaticities")
    return () if found is None else tuple(float(v) for v in np.ravel(found))
