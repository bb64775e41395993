"""What a series has to trace: the light frames that are missing, their work and their size."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from render.errors import OutputError
from render.picture.take import order_of
from render.series.cells import Cell, placed
from render.trace import FrameStore, Quality
from render.trace.desk import wanted

BYTES_PER_PIXEL = 16  # of a stored frame: three sums of colour and one of squares, 4 bytes each


@dataclass(frozen=True, slots=True)
class Due:
    """The light frames of a series."""

    frames: int  # different ones
    missing: int  # of them, wholly or in part
    missing_bytes: int  # what they will take on disk
    chunks: int  # to trace; lights of a cell that start together share theirs


def frames_due(
    cells: Sequence[Cell],
    quality: Quality | int,
    long_side_px: int,
    store: FrameStore,
    engine_name: str,
    told: Callable[[int], None] | None = None,
) -> Due:
    """Place every cell and look up its light frames; nothing is traced.

    told : called with the number of cells that stand
    Raises OutputError naming the first cell that cannot stand.
    """
    lacking: dict[str, int] = {}  # chunks by stored name
    size_bytes = all_chunks = 0
    for cell, layout in placed(cells):
        order = order_of(layout, quality, long_side_px)
        _, _, names, chunks = wanted(order, engine_name)
        new = {name: max(0, chunks - store.chunks(name)) for name in names.values()}
        new = {name: count for name, count in new.items() if name not in lacking}
        missing = sum(count > 0 for count in new.values())
        size_bytes += missing * BYTES_PER_PIXEL * order.size_px[0] * order.size_px[1]
        all_chunks += max(new.values(), default=0)
        lacking |= new
        if told:
            told(cell.number)
    missing = sum(count > 0 for count in lacking.values())
    return Due(len(lacking), missing, size_bytes, all_chunks)


def check_space(due: Due, store: FrameStore) -> None:
    """Raise OutputError where the disk has no room for what is to be traced.

    Of a store at an address nobody knows how large it is.
    """
    if store.folder is None or store.limit_bytes is None:
        return
    folder = next(each for each in (store.folder, *store.folder.parents) if each.is_dir())
    free = shutil.disk_usage(folder).free
    needed = min(due.missing_bytes, store.limit_bytes)
    if needed > free:
        raise OutputError(
            f"{store.folder}: {due.missing} light frames need {on_disk(needed)}, {on_disk(free)} "
            "are free (accepted: a smaller --size, or TENTHSTOP_CACHE on another disk)"
        )


def announcement(due: Due, cells: int, store: FrameStore) -> str:
    """What is about to be traced, in one line."""
    said = f"{cells} cells, {due.frames} light frames, {due.missing} of them to trace"
    if not due.missing:
        return f"{said}."
    said += f": {on_disk(due.missing_bytes)} in {_said(store)}"
    if store.limit_bytes is not None and due.missing_bytes > store.limit_bytes:
        limit = on_disk(store.limit_bytes)
        said += f", which keeps {limit}: the oldest go, and running again traces them anew"
    return f"{said}."


def on_disk(size: int) -> str:
    """A size on disk as it is said."""
    return f"{size / 1e9:.1f} GB" if size >= 1e8 else f"{size / 1e6:.1f} MB"


def _said(store: FrameStore) -> str:
    """Where frames lie, a folder from the user's own on."""
    if store.folder is None or not store.folder.is_relative_to(Path.home()):
        return store.where
    return f"~/{store.folder.relative_to(Path.home())}"
