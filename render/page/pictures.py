"""Light frames on the way to the browser: what is there, what is missing, chunk by chunk."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import zoom

from render.layout import Layout
from render.page.told import FRAME_UNIT, FrameState
from render.picture.take import size_px
from render.trace import Engine, FrameStore, LightFrame, Order, Quality
from render.trace.desk import Desk, wanted
from render.trace.frames import SAMPLES
from render.trace.stage import Stage
from render.trace.tally import Tally, chunks_for, samples_in
from render.trace.tasks import Alone

T = TypeVar("T")

QUALITY: Quality = "draft"
LONG_SIDE_PX = 600  # 480 x 600 of an upright 4:5 frame
# The first pictures of a light have so many times fewer pixels a side, and count for so many
# samples. A graphics card draws them in full size.
SKETCHES = ((4, 1), (2, 2))
SKETCHES_ON_CARD = ((1, 2),)
# Of a draft's strands, thicker ones: the set is ready for rays a third sooner (measured).
SKETCHED_STRANDS = 0.25
SKETCHED_SAMPLES, SKETCHED_ON_CARD = 4, 3  # of a pixel; of so many pixels as a card draws
CARD = "cuda"
KEPT = 48  # frames held in memory; 5 MB each
MOST_HALF = 65504.0  # largest half float


@dataclass(frozen=True, slots=True)
class Wanted:
    """The frames of one set-up: an order, and the stored name of each light's."""

    order: Order
    names: dict[str, str]
    stage: Stage  # of all its lights


@dataclass(slots=True)
class Pictures:
    """Frames as far as they are, from the store and from the engine."""

    store: FrameStore
    engine_name: str
    kept: dict[str, Tally] = field(default_factory=dict)  # by stored name, newest last
    # by stored name: picture (h, w, 3) and the samples that it counts for, newest last
    coarse: dict[str, tuple[NDArray[np.float32], int]] = field(default_factory=dict)

    def wanted(self, layout: Layout) -> Wanted | None:
        """The frames of a layout, of lights that are off too; None without a camera."""
        if layout.view is None:
            return None
        order = Order(layout, QUALITY, size_px(layout.view, LONG_SIDE_PX))
        stage, _, names, _ = wanted(order, self.engine_name)
        return Wanted(order, names, stage)

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
        samples = found.samples if found else samples_in(self.store.chunks(name))
        return samples or (self.coarse[name][1] if name in self.coarse else 0)

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

    def sketch(self, asked: Wanted, engine: Engine) -> Iterator[dict[str, FrameState]]:
        """Coarse pictures of lights that have none, then finer ones; raises EngineError."""
        for fewer, samples in self._sketches:
            lights = tuple(k for k, name in asked.names.items() if self._samples(name) < samples)
            if lights:
                drawn = self._draw(asked, lights, engine, fewer)
                for light in lights:
                    _put(self.coarse, asked.names[light], (drawn[light], samples))
                states = self.states(asked)
                yield {light: states[light] for light in lights}

    @property
    def _sketches(self) -> tuple[tuple[int, int], ...]:
        return SKETCHES_ON_CARD if self.engine_name == CARD else SKETCHES

    def _draw(
        self, asked: Wanted, lights: tuple[str, ...], engine: Engine, fewer: int
    ) -> dict[str, NDArray[np.float32]]:
        """A coarse picture (h, w, 3) of each of some lights.

        All lights are in the set, so that there is one set and one kernel, whichever moves.
        """
        view = asked.order.layout.view
        assert view is not None  # there are frames, so there is a camera
        size = size_px(view, LONG_SIDE_PX // fewer)
        samples = SKETCHED_ON_CARD if self.engine_name == CARD else SKETCHED_SAMPLES
        what = {"view": view, "size_px": size, "samples": samples, "seed": 0}
        layers = engine.call("chunk", _sketched(asked.stage), what | {"only": lights})
        return dict(zip(lights, layers, strict=True))

    def _keep(self, name: str, tally: Tally) -> None:
        _put(self.kept, name, tally)
        self.coarse.pop(name, None)

    def light_frames(self, asked: Wanted) -> dict[str, LightFrame]:
        """Every light's frame as far as it is traced; those that are missing are left out."""
        found = {}
        for light, name in asked.names.items():
            tally = self.kept.get(name) or self.store.load(name, asked.order.size_px)
            if tally is not None:
                found[light] = LightFrame(light, tally.mean(), tally.variance(), tally.samples)
        return found

    def coarse_frames(self, asked: Wanted, lights: Iterable[str]) -> dict[str, LightFrame]:
        """First pictures of some lights, of unknown variance; those that are missing left out."""
        found = {}
        for light in lights:
            coarse = self.coarse.get(asked.names[light])
            if coarse is not None:
                mean = _enlarged(coarse[0], asked.order.size_px)
                unknown = np.full(mean.shape[:2], np.nan, np.float32)
                found[light] = LightFrame(light, mean, unknown, coarse[1])
        return found

    def pixels(self, asked: Wanted, name: str) -> NDArray[np.float16] | None:
        """A frame as half floats (h, w, 3), times FRAME_UNIT; None while there is none."""
        tally = self.kept.get(name) or self.store.load(name, asked.order.size_px)
        coarse = self.coarse.get(name)
        if tally is not None:
            mean = tally.mean()
        elif coarse is not None:
            mean = _enlarged(coarse[0], asked.order.size_px)
        else:
            return None
        half: NDArray[np.float16] = np.clip(mean * FRAME_UNIT, 0.0, MOST_HALF).astype("<f2")
        return half


def _sketched(stage: Stage) -> Stage:
    """What is drawn first: with fewer strands."""
    if stage.body is None or not stage.body.strands:
        return stage
    return replace(stage, strand_share=SKETCHED_STRANDS * stage.strand_share)


def _put(shelf: dict[str, T], name: str, thing: T) -> None:
    """The newest last; the oldest go when there are too many."""
    shelf.pop(name, None)
    shelf[name] = thing
    for oldest in list(shelf)[: max(0, len(shelf) - KEPT)]:
        shelf.pop(oldest, None)  # another thread may have been there


def _enlarged(picture: NDArray[np.float32], size_px: tuple[int, int]) -> NDArray[np.float32]:
    """A picture (h, w, 3) spread over width, height: straight lines between middles of its pixels.

    Straight lines neither ring nor fall below the least of the light around them.
    """
    height, width = picture.shape[:2]
    if (width, height) == size_px:
        return picture
    scales = (size_px[1] / height, size_px[0] / width, 1)
    found: NDArray[np.float32] = zoom(picture, scales, order=1, mode="nearest", grid_mode=True)
    return found
