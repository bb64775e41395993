"""Light frames on the way to the browser: what is there, what is missing, chunk by chunk."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.page.told import FRAME_UNIT, FrameState
from render.picture.take import size_px
from render.trace import Engine, FrameStore, Order, Quality
from render.trace.desk import Desk, wanted
from render.trace.frames import SAMPLES
from render.trace.tally import Tally, chunks_for, samples_in
from render.trace.tasks import Alone

QUALITY: Quality = "draft"
LONG_SIDE_PX = 600  # 480 x 600 of an upright 4:5 frame
KEPT = 48  # frames held in memory; 5 MB each
MOST_HALF = 65504.0  # largest half float


@dataclass(frozen=True, slots=True)
class Wanted:
    """The frames of one set-up: an order, and the stored name of each light's."""

    order: Order
    names: dict[str, str]


@dataclass(slots=True)
class Pictures:
    """Frames as far as they are, from the store and from the engine."""

    store: FrameStore
    engine_name: str
    kept: dict[str, Tally] = field(default_factory=dict)  # by stored name, newest last

    def wanted(self, layout: Layout) -> Wanted | None:
        """The frames of a layout, of lights that are off too; None without a camera."""
        if layout.view is None:
            return None
        order = Order(layout, QUALITY, size_px(layout.view, LONG_SIDE_PX))
        return Wanted(order, wanted(order, self.engine_name)[2])

    def states(self, asked: Wanted | None) -> dict[str, FrameState]:
        """How far each light's frame is, by light."""
        if asked is None:
            return {}
        return {
            light: FrameState(name, self._samples(name), SAMPLES[QUALITY])
            for light, name in asked.names.items()
        }

    def _samples(self, name: str) -> int:
        found = self.kept.get(name)
        return found.samples if found else samples_in(self.store.chunks(name))

    def missing(self, asked: Wanted) -> bool:
        """Whether a frame has fewer samples than its quality."""
        least = samples_in(chunks_for(SAMPLES[QUALITY]))
        return any(self._samples(name) < least for name in asked.names.values())

    def grow(self, asked: Wanted, engine: Engine) -> Generator[dict[str, FrameState], None, None]:
        """Trace what is missing, a chunk at a time; after each, the frames that grew, by light.

        Ending the iteration early drops the rest; what was traced is stored.
        Raises EngineError.
        """
        desk, crew = Desk(self.store, self.engine_name), Alone(engine)
        desk.accept(asked.order)
        lights = {name: light for light, name in asked.names.items()}
        try:
            while desk.planned:
                grown = desk.planned[0][1]
                desk.give(crew)
                desk.put(*crew.take())
                for frame in grown:
                    self._keep(frame.stored_name, frame.tally)
                yield {
                    lights[frame.stored_name]: FrameState(
                        frame.stored_name, frame.tally.samples, SAMPLES[QUALITY]
                    )
                    for frame in grown
                }
        finally:
            desk.keeper.save(desk.frames.values())

    def _keep(self, name: str, tally: Tally) -> None:
        self.kept.pop(name, None)
        self.kept[name] = tally
        while len(self.kept) > KEPT:
            self.kept.pop(next(iter(self.kept)))

    def pixels(self, asked: Wanted, name: str) -> NDArray[np.float16] | None:
        """A frame as half floats (h, w, 3), times FRAME_UNIT; None while there is none."""
        tally = self.kept.get(name) or self.store.load(name, asked.order.size_px)
        if tally is None:
            return None
        scaled = np.clip(tally.mean() * np.float32(FRAME_UNIT), 0.0, MOST_HALF)
        half: NDArray[np.float16] = scaled.astype("<f2")
        return half
