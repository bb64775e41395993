"""The look of a set-up: its light frames, mixed at their powers and exposed as on the camera."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import nullcontext
from dataclasses import dataclass

from render.errors import SceneError
from render.layout import Layout, View, place
from render.picture.develop import Exposure, Picture, error_stops, mix
from render.picture.sure import Sureness
from render.picture.until import Aim, frames_until
from render.scenefile import Setup
from render.trace import (
    Crew,
    Engine,
    FrameStore,
    LightFrame,
    Order,
    Progress,
    Quality,
    many_frames,
)

LONG_SIDE_PX = 1200


@dataclass(frozen=True, slots=True)
class Look:
    """A finished look and what it was made of."""

    picture: Picture
    frames: Mapping[str, LightFrame]
    layout: Layout
    engine: str
    error_stops: float  # median standard error of a pixel
    sureness: Sureness | None = None  # of a look that was traced until it was sure

    def one_light(self, name: str) -> Picture:
        """The picture that one light makes alone, at the same exposure."""
        return mix(self.frames, self.layout, self.picture.exposure, (name,))


def exposure_of(setup: Setup) -> Exposure:
    """Exposure set on the scene's camera. Raises SceneError without a camera."""
    camera = setup.scene.camera
    if camera is None:
        raise SceneError(setup.file, "camera", "missing", "a [camera] table to take a picture with")
    return Exposure(
        camera.iso_speed,
        camera.f_number,
        camera.shutter_s,
        camera.focal_length_mm,
        setup.scene.meter.c_flat,
    )


def size_px(view: View, long_side: int) -> tuple[int, int]:
    """Width and height [px] of a picture with the frame's proportions."""
    scale = long_side / max(view.frame_width_m, view.frame_height_m)
    return max(1, round(view.frame_width_m * scale)), max(1, round(view.frame_height_m * scale))


def look(
    setup: Setup,
    *,
    quality: Quality | int = "proof",
    long_side_px: int = LONG_SIDE_PX,
    engine: str | Engine | Crew = "auto",
    store: FrameStore | None = None,
    progress: Callable[[Progress], None] | None = None,
    aim: Aim | None = None,
) -> Look:
    """Trace the light frames that are missing and develop the look.

    quality      : "draft", "proof", "final" or samples per pixel
    aim          : how sure it is to be, which then decides on the samples of a named quality
    long_side_px : longer side of the picture [px]
    engine       : "auto", "cuda", "llvm" or "scalar", one that runs already, or a crew of workers
    store        : where light frames are kept; None for the user's cache folder
    progress     : called after every chunk of samples
    Raises SceneError, KitError, MeshError, EngineError.
    """
    exposure = exposure_of(setup)
    # The engine starts while the scene is placed.
    with Engine(engine) if isinstance(engine, str) else nullcontext(engine) as running:
        layout = place(setup)
        if aim is not None:
            if isinstance(quality, int):
                raise ValueError("an aim decides on the samples itself")
            return take_until(
                layout, exposure, aim, quality, long_side_px, running, store, progress
            )
        return take(
            layout,
            exposure,
            quality=quality,
            long_side_px=long_side_px,
            engine=running,
            store=store,
            progress=progress,
        )


def take(
    layout: Layout,
    exposure: Exposure,
    *,
    quality: Quality | int,
    long_side_px: int,
    engine: Engine | Crew,
    store: FrameStore | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Look:
    """The look of a set that stands already, through its view (see `look`).

    Raises EngineError if the engine fails; ValueError without a view.
    """
    return next(
        takes(
            [(layout, exposure)],
            quality=quality,
            long_side_px=long_side_px,
            engine=engine,
            store=store,
            progress=progress,
        )
    )


def take_until(
    layout: Layout,
    exposure: Exposure,
    aim: Aim,
    quality: Quality,
    long_side_px: int,
    engine: Engine | Crew,
    store: FrameStore | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Look:
    """The look of a set that stands already, as sure as it is asked to be (see `frames_until`).

    Raises EngineError if the engine fails; ValueError without a view.
    """
    if layout.view is None:
        raise ValueError("a layout without a camera has no look")
    size, kept = size_px(layout.view, long_side_px), store or FrameStore()
    frames, sure = frames_until(layout, exposure, aim, quality, size, kept, engine, progress)
    picture = mix(frames, layout, exposure)
    return Look(picture, frames, layout, engine.name, error_stops(picture), sure)


def takes(
    sets: Iterable[tuple[Layout, Exposure]],
    *,
    quality: Quality | int,
    long_side_px: int,
    engine: Engine | Crew,
    store: FrameStore | None = None,
    progress: Callable[[Progress], None] | None = None,
    expected_chunks: int = 0,
) -> Iterator[Look]:
    """The looks of many sets, each as soon as it is done, in the order given.

    Sets are read only as far ahead as the engine or the workers need; frames that several sets
    share are traced once. See `trace.many_frames` for `progress` and `expected_chunks`.
    Raises EngineError if an engine fails; ValueError for a set without a view.
    """
    read: deque[tuple[Layout, Exposure]] = deque()

    def orders() -> Iterator[Order]:
        for layout, exposure in sets:
            read.append((layout, exposure))
            yield order_of(layout, quality, long_side_px)

    kept = store or FrameStore()
    for frames in many_frames(orders(), kept, engine, progress, expected_chunks):
        layout, exposure = read.popleft()
        picture = mix(frames, layout, exposure)
        yield Look(picture, frames, layout, engine.name, error_stops(picture))


def order_of(layout: Layout, quality: Quality | int, long_side_px: int) -> Order:
    """The light frames that a look of a set needs. Raises ValueError without a view."""
    if layout.view is None:
        raise ValueError("a layout without a camera has no look")
    lit = tuple(front.name for front in layout.fronts if front.luminous_energy_lm_s > 0)
    return Order(layout, quality, size_px(layout.view, long_side_px), lit)
