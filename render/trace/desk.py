"""Where orders of light frames become chunks to trace, and traced chunks become frames."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

from render.layout.placed import Layout, View
from render.trace.frames import SAMPLES, LightFrame, Quality, frame_names, in_quality
from render.trace.growing import Growing, Keeper
from render.trace.stage import Dress, Stage, stage_of
from render.trace.store import FrameStore
from render.trace.tally import chunks_for
from render.trace.tasks import Crew, Layers, Task


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """The light frames that are wanted of one set; raises ValueError without a camera."""

    layout: Layout
    quality: Quality | int  # "draft", "proof", "final", or samples per pixel
    size_px: tuple[int, int]  # width, height
    only: tuple[str, ...] | None = None  # names of the lights wanted; None = all
    dress: Dress = "real"
    samples: int | None = None  # per pixel, in place of as many as the quality has

    def __post_init__(self) -> None:
        if self.layout.view is None:
            raise ValueError("a layout without a camera has no frames")


def wanted(order: Order, engine_name: str) -> tuple[Stage, View, dict[str, str], int]:
    """Stage, view, stored names and number of chunks of an order."""
    view = order.layout.view
    assert view is not None  # the order has seen to it
    stage = stage_of(order.layout, order.dress, emitting=order.only)
    stage = in_quality(stage, order.quality, engine_name)
    names = frame_names(stage, view, order.size_px, engine_name)
    quality = order.quality
    usual = SAMPLES[quality] if isinstance(quality, str) else quality
    return stage, view, names, chunks_for(usual if order.samples is None else order.samples)


@dataclass(frozen=True, slots=True, eq=False)
class Waiting:
    """An order whose frames grow: by light, with the number of chunks that it takes them at."""

    frames: dict[str, tuple[Growing, int]]

    @property
    def complete(self) -> bool:
        return all(chunks in frame.passed for frame, chunks in self.frames.values())

    def finished(self) -> dict[str, LightFrame]:
        """Frames of a complete order, by light."""
        tallies = {light: frame.passed[chunks] for light, (frame, chunks) in self.frames.items()}
        return {k: LightFrame(k, t.mean(), t.variance(), t.samples) for k, t in tallies.items()}


class Desk:
    """Where orders become tasks and chunks become frames."""

    def __init__(self, store: FrameStore, engine_name: str) -> None:
        self.store, self.engine_name = store, engine_name
        self.keeper = Keeper(store)
        self.frames: dict[str, Growing] = {}  # by stored name
        self.waiting: deque[Waiting] = deque()
        self.planned: deque[tuple[Task, tuple[Growing, ...]]] = deque()
        self.under_way: dict[Task, tuple[Growing, ...]] = {}
        self.all_chunks, self.all_samples = 0, 0  # planned so far; samples of all pixels

    def accept(self, order: Order) -> None:
        """Plan the chunks that an order still needs.

        Lights that lag behind are traced first; all that have as many chunks share a traversal.
        Frames of earlier orders count as done, so that the plan does not hang on who is quick.
        """
        stage, view, names, chunks = wanted(order, self.engine_name)
        grown = {light: self._frame(name, order.size_px) for light, name in names.items()}
        start = min((frame.promised for frame in grown.values()), default=chunks)
        for number in range(start, chunks):
            lights = tuple(light for light, frame in grown.items() if frame.promised <= number)
            targets = tuple(grown[light] for light in lights)
            if not all(frame.has(number) for frame in targets):
                shining = replace(stage, emitting=lights)
                self._plan(Task(shining, view, order.size_px, number), targets)
        for frame in grown.values():
            frame.promised = max(frame.promised, chunks)
            frame.ask(frame.promised)
        self.waiting.append(Waiting({k: (f, f.promised) for k, f in grown.items()}))

    def _frame(self, name: str, size_px: tuple[int, int]) -> Growing:
        if name not in self.frames:
            self.frames[name] = Growing.of(self.store, name, size_px)
        return self.frames[name]

    def _plan(self, task: Task, targets: tuple[Growing, ...]) -> None:
        self.planned.append((task, targets))
        self.all_chunks += 1
        self.all_samples += task.paths

    def give(self, crew: Crew) -> None:
        """Hand the next planned task to the crew."""
        task, targets = self.planned.popleft()
        crew.give(task)
        self.under_way[task] = targets

    def put(self, task: Task, layers: Layers) -> None:
        """Add a chunk to its frames."""
        for frame, chunk in zip(self.under_way.pop(task), layers, strict=True):
            frame.add(task.number, chunk)
        self.keeper.save_sometimes(self.frames.values())

    def hand_over(self) -> dict[str, LightFrame]:
        """The first waiting order's frames, stored; those that no other order waits for go."""
        done = self.waiting.popleft()
        self.keeper.save(self.frames.values())
        needed = {id(frame) for order in self.waiting for frame, _ in order.frames.values()}
        self.frames = {name: f for name, f in self.frames.items() if id(f) in needed}
        return done.finished()
