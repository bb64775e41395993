"""A look as sure as it is asked to be: traced until every patch and the median pixel are."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from render.layout import Layout
from render.picture.develop import Exposure
from render.picture.sure import ALL, Sureness, sureness
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
from render.trace.stopping import LEAST_SAMPLES, LOOKS, MOST_SAMPLES, next_look


@dataclass(frozen=True, slots=True)
class Aim:
    """How sure a look is to be."""

    stops: float  # standard error of every patch, light by light, and of the median pixel
    seen: Callable[[Layout], Collection[str]] | None = None  # meter points that the camera sees
    told: Callable[[Sureness], None] | None = None  # told after every look at the frames


def frames_until(
    layout: Layout,
    exposure: Exposure,
    aim: Aim,
    quality: Quality,
    size_px: tuple[int, int],
    store: FrameStore,
    engine: Engine | Crew,
    progress: Callable[[Progress], None] | None = None,
) -> tuple[dict[str, LightFrame], Sureness]:
    """Trace light frames, chunk by chunk, until they are sure enough.

    It looks at the frames at the samples that `trace.stopping` allows and goes on with the lights
    that are not sure; what decides are finished frames, so that any number of workers traces the
    same. Frames that are stored are looked at first.

    progress : told after every chunk on the way to the next look
    returns : frames, and how sure they are, which is less than asked for only at MOST_SAMPLES
    Raises EngineError if the engine fails; ValueError without a view.
    """
    names = None if aim.seen is None else aim.seen(layout)
    lit = tuple(front.name for front in layout.fronts if front.luminous_energy_lm_s > 0)
    frames: dict[str, LightFrame] = {}
    open_lights, samples = lit, LEAST_SAMPLES
    while True:
        order = Order(layout, quality, size_px, open_lights, samples=samples)
        frames |= next(many_frames([order], store, engine, progress))
        frames = {name: frames[name] for name in lit}
        found = sureness(frames, layout, exposure, names)
        if aim.told:
            aim.told(found)
        times = _times(found, aim.stops)
        open_lights = tuple(times)
        if not open_lights:
            return frames, found
        samples = min(next_look(frames[name].samples, times[name]) for name in open_lights)


def _times(found: Sureness, wanted_stops: float) -> dict[str, float]:
    """Lights to go on with, and how many times too large their error may be.

    A frame of before may stand between two looks; it goes on to the next one. Where only the sum
    of all lights is not sure enough, all go on.
    """
    above = found.above(wanted_stops)
    times = {name: above[name] for name in found.samples if name in above}
    if not times and ALL in above:
        times = dict.fromkeys(found.samples, above[ALL])
    times |= {n: 1.0 for n, had in found.samples.items() if had not in LOOKS and n not in times}
    return {name: much for name, much in times.items() if found.samples[name] < MOST_SAMPLES}
