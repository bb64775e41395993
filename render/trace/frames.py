"""Light frames: the picture that each light makes alone, per lumen second."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.emission.front import WHITE
from render.layout.placed import Layout, View
from render.trace.bystanders import bystanders
from render.trace.choice import tracer_version
from render.trace.digest import digest
from render.trace.engine import Engine
from render.trace.stage import Dress, SkinModel, Stage, stage_of
from render.trace.store import FrameStore
from render.trace.tally import Tally, chunk_samples, chunks_for, samples_in

Quality = Literal["draft", "proof", "final"]
SAMPLES: dict[Quality, int] = {"draft": 16, "proof": 64, "final": 256}
# Light goes under the skin where there are samples enough; every other picture, one of so many
# samples too, goes on from a draft's.
SKIN: dict[Quality, SkinModel] = {"draft": "surface", "proof": "surface", "final": "under"}
UNDER_ON = "llvm"
STRAND_SHARE: dict[Quality, float] = {"draft": 0.4, "proof": 0.4, "final": 1.0}
MODEL_VERSION = 4  # goes up when nodes, fronts or light paths change what a frame shows
SAVE_EVERY_S = 2.0  # at most this much work is lost


@dataclass(frozen=True, slots=True)
class LightFrame:
    """What one light does alone, per lumen second that leaves its cloth."""

    name: str
    mean: NDArray[np.float32]  # (h, w, 3) luminance·time, linear sRGB [cd·s/m² per lm·s]
    variance: NDArray[np.float32]  # (h, w) of the mean's luminance
    samples: int  # per pixel


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the work on the missing frames is."""

    done_chunks: int
    all_chunks: int
    seconds_used: float
    seconds_left: float


def light_frames(
    layout: Layout,
    quality: Quality | int,
    size_px: tuple[int, int],
    store: FrameStore,
    engine: Engine,
    only: Collection[str] | None = None,
    progress: Callable[[Progress], None] | None = None,
    dress: Dress = "real",
) -> dict[str, LightFrame]:
    """Light frames of a set-up, from the store as far as they are there.

    All missing lights are traced together; an interrupted run goes on where it stopped, and a
    longer exposure goes on from a shorter one.

    quality  : "draft", "proof", "final", or samples per pixel (rounded up to whole chunks)
    size_px  : width, height
    only     : names of the lights wanted; None = all
    progress : told after every chunk
    raises   : EngineError if the engine fails; ValueError without a camera
    """
    if layout.view is None:
        raise ValueError("a layout without a camera has no frames")
    wanted = stage_of(layout, dress, emitting=None if only is None else tuple(only))
    wanted = in_quality(wanted, quality, engine.name)
    names = frame_names(wanted, layout.view, size_px, engine.name)
    chunks = chunks_for(SAMPLES[quality] if isinstance(quality, str) else quality)
    film = _Film(wanted, layout.view, size_px, engine)
    tallies = {light: store.load(names[light], size_px) for light in wanted.emitting}
    exposed = {k: t if t is not None else Tally.empty(size_px) for k, t in tallies.items()}
    _expose(film, exposed, chunks, _Keeper(store, names), progress)
    return {k: LightFrame(k, t.mean(), t.variance(), t.samples) for k, t in exposed.items()}


def in_quality(stage: Stage, quality: Quality | int, engine_name: str) -> Stage:
    """The stage with the skin and the strands that a quality shows.

    Only the compiled engine of the processor lets light go under the skin: the plain one has stock
    parts only, a graphics card traces no two scenes at once. They keep to the surface.
    """
    name: Quality = quality if isinstance(quality, str) else "draft"
    skin: SkinModel = SKIN[name] if engine_name == UNDER_ON else "surface"
    return replace(stage, skin=skin, strand_share=STRAND_SHARE[name])


def frame_names(
    stage: Stage, view: View, size_px: tuple[int, int], engine_name: str
) -> dict[str, str]:
    """Stored name of each light's frame: a digest of everything that changes the picture."""
    return {
        light: _frame_name(stage, view, size_px, engine_name, light) for light in stage.emitting
    }


def _frame_name(
    stage: Stage, view: View, size_px: tuple[int, int], engine_name: str, light: str
) -> str:
    own = next(front for front in stage.fronts if front.name == light)
    others = bystanders(stage, view, light)
    body = stage.body and (stage.body.surfaces, stage.body.strands)
    return digest(
        (
            _optics(own),
            tuple(_optics(other) for other in others),
            (stage.sheets, body, stage.dress, stage.max_depth),
            (stage.skin, stage.strand_share),
            (view, size_px),
            (engine_name, tracer_version(), MODEL_VERSION),
        )
    )


def _optics(front: Front) -> Front:
    """A front without what a picture per lumen second does not show."""
    return replace(front, name="", luminous_energy_lm_s=1.0, colour=WHITE)


@dataclass(frozen=True, slots=True)
class _Film:
    """What stays the same from chunk to chunk."""

    stage: Stage
    view: View
    size_px: tuple[int, int]
    engine: Engine

    def chunk(self, lights: tuple[str, ...], number: int) -> dict[str, NDArray[np.float32]]:
        stage = replace(self.stage, emitting=lights)
        arguments = {"view": self.view, "size_px": self.size_px}
        arguments |= {"samples": chunk_samples(number), "seed": number}
        layers = self.engine.call("chunk", stage, arguments)
        return dict(zip(lights, layers, strict=True))


@dataclass(slots=True)
class _Keeper:
    """Saves what is new, at most every few seconds."""

    store: FrameStore
    names: dict[str, str]
    unsaved: set[str]
    saved_at: float

    def __init__(self, store: FrameStore, names: dict[str, str]) -> None:
        self.store, self.names = store, names
        self.unsaved, self.saved_at = set(), time.monotonic()

    def note(self, lights: Collection[str], exposed: dict[str, Tally]) -> None:
        self.unsaved.update(lights)
        if time.monotonic() - self.saved_at > SAVE_EVERY_S:
            self.save(exposed)

    def save(self, exposed: dict[str, Tally]) -> None:
        for light in sorted(self.unsaved):
            self.store.save(self.names[light], exposed[light])
        self.unsaved, self.saved_at = set(), time.monotonic()


def _expose(
    film: _Film,
    exposed: dict[str, Tally],
    chunks: int,
    keeper: _Keeper,
    progress: Callable[[Progress], None] | None,
) -> None:
    """Add chunks until every light has enough; those that lag behind are traced first."""
    start, done = time.monotonic(), 0
    try:
        while lagging := _lagging(exposed, chunks):
            number = exposed[lagging[0]].chunks
            for light, picture in film.chunk(lagging, number).items():
                exposed[light] = exposed[light].plus(picture)
            done += 1
            keeper.note(lagging, exposed)
            if progress:
                progress(_progress(exposed, chunks, done, time.monotonic() - start))
    finally:
        keeper.save(exposed)


def _lagging(exposed: dict[str, Tally], chunks: int) -> tuple[str, ...]:
    """The lights with the fewest chunks, if any has too few; they share the next traversal."""
    least = min((tally.chunks for tally in exposed.values()), default=chunks)
    if least >= chunks:
        return ()
    return tuple(light for light, tally in exposed.items() if tally.chunks == least)


def _progress(exposed: dict[str, Tally], chunks: int, done: int, seconds: float) -> Progress:
    """Time left in proportion to the samples still to trace."""
    least = min(tally.chunks for tally in exposed.values())
    traced = samples_in(least) - samples_in(max(least - done, 0))
    remaining = samples_in(chunks) - samples_in(least)
    return Progress(done, done + chunks - least, seconds, seconds * remaining / max(traced, 1))
