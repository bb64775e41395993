"""Orders of light frames: one set or a thousand, done by one engine or by many workers."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable, Iterator

from render.layout.placed import Layout
from render.trace.desk import Desk, Order, wanted
from render.trace.engine import Engine
from render.trace.frames import LightFrame, Progress, Quality
from render.trace.stage import Dress
from render.trace.store import FrameStore
from render.trace.tasks import Ahead, Crew, Task

Told = Callable[[Progress], None]


def light_frames(
    layout: Layout,
    quality: Quality | int,
    size_px: tuple[int, int],
    store: FrameStore,
    engine: Engine | Crew,
    only: Collection[str] | None = None,
    progress: Told | None = None,
    dress: Dress = "real",
) -> dict[str, LightFrame]:
    """Light frames of a set-up, from the store as far as they are there.

    All missing lights are traced together; an interrupted run goes on where it stopped, and a
    longer exposure goes on from a shorter one.

    quality  : "draft", "proof", "final", or samples per pixel (rounded up to whole chunks)
    size_px  : width, height
    engine   : an engine that runs, or a crew of workers
    only     : names of the lights wanted; None = all
    progress : told after every chunk
    raises   : EngineError if the engine fails; ValueError without a camera
    """
    order = Order(layout, quality, size_px, None if only is None else tuple(only), dress)
    return next(many_frames([order], store, engine, progress))


def many_frames(
    orders: Iterable[Order],
    store: FrameStore,
    engine: Engine | Crew,
    progress: Told | None = None,
    expected_chunks: int = 0,
) -> Iterator[dict[str, LightFrame]]:
    """Light frames of each order, in the order given, each as soon as it is complete.

    Orders are read from the iterable only as far ahead as the workers need, so that a thousand
    sets never stand in memory at once. Frames that several orders share are traced once. What
    comes out is the same bit for bit for any number of workers, and so is what is stored; a run
    that was stopped goes on where it was, chunks that came out of turn included.

    progress        : told after every chunk; `all_chunks` counts the orders read so far, or
    expected_chunks : those of all orders, where the caller knows (`chunks_missing`)
    raises          : EngineError if an engine fails
    """
    crew = Ahead(engine) if isinstance(engine, Engine) else engine
    desk = Desk(store, crew.name)
    unread, limit = iter(orders), crew.room + 2
    tracker = _Tracker(progress, expected_chunks)
    try:
        while True:
            _hand_out(desk, unread, crew, limit)
            if desk.waiting and desk.waiting[0].complete:
                yield desk.hand_over()
            elif desk.under_way:
                task, layers = crew.take()
                desk.put(task, layers)
                tracker.note(task, desk)
            else:
                return
    finally:
        if desk.under_way:
            crew.forget()
        desk.keeper.save(desk.frames.values())


def chunks_missing(orders: Iterable[Order], store: FrameStore, engine_name: str) -> dict[str, int]:
    """Chunks that `many_frames` would trace, by stored name of the frame; nothing is traced.

    The number of names is that of the frames; lights of one order that start together share
    their chunks, so the longest of an order's frames tells its tasks.
    """
    missing: dict[str, int] = {}
    for order in orders:
        _, view, names, chunks = wanted(order, engine_name)
        assert view is not None
        for name in names.values():
            lacking = chunks - store.chunks(name)
            if lacking > missing.get(name, 0):
                missing[name] = lacking
    return missing


def _hand_out(desk: Desk, unread: Iterator[Order], crew: Crew, most_waiting: int) -> None:
    """Give tasks, reading on in the orders, until the crew has enough or too many orders wait."""
    while crew.room > 0:
        if not desk.planned:
            order = next(unread, None) if len(desk.waiting) < most_waiting else None
            if order is None:
                return
            desk.accept(order)
        else:
            desk.give(crew)


class _Tracker:
    """Tells how far the work is, in proportion to the samples still to trace."""

    def __init__(self, progress: Told | None, expected_chunks: int) -> None:
        self._progress, self._expected = progress, expected_chunks
        self._start, self._done, self._samples = time.monotonic(), 0, 0

    def note(self, task: Task, desk: Desk) -> None:
        self._done += 1
        self._samples += task.paths
        if self._progress is None:
            return
        all_chunks = max(desk.all_chunks, self._expected)
        all_samples = desk.all_samples * all_chunks / desk.all_chunks
        seconds = time.monotonic() - self._start
        left = seconds * (all_samples / self._samples - 1)
        self._progress(Progress(self._done, all_chunks, seconds, left))
