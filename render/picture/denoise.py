"""Pictures without grain, for the eye alone: every number is read before."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import OutputError
from render.layout import Layout
from render.photometry.srgb import luminance
from render.photometry.stops import stops
from render.picture.develop import Picture, mix
from render.picture.sure import patches
from render.picture.take import Look, order_of
from render.trace import FrameStore, LightFrame, Quality, Readers
from render.trace.guides import Guides, guides

Pixels = NDArray[np.float32]
Filter = Callable[..., Any]

DRIFT_STOPS = 0.02  # a patch that the filter moves further is told


@dataclass(frozen=True, slots=True)
class Drift:
    """What the filter does to a patch; its fields are keys of the JSON output."""

    place: str
    drift_stops: float  # mean after, over mean before
    standard_error_stops: float  # of the mean before: less than this is the grain's own chance


def library() -> Filter:
    """The function of Open Image Denoise. Raises OutputError where it is not installed.

    It runs on the processor, also where a graphics card traces: its weights come with the library,
    and the tracer's own filter on a card ends the whole process where the driver lacks them.
    """
    try:
        import pyoidn
    except ImportError:
        raise OutputError(
            "--denoise: Open Image Denoise is not installed (pip install 'tenthstop[denoise]')"
        ) from None
    found: Filter = pyoidn.denoise
    return found


def denoised(frames: Mapping[str, LightFrame], shown: Guides) -> dict[str, LightFrame]:
    """Light frames without their grain; their variances are those of before.

    The guides count as clean although hair has some grain in them: freed of it first, single
    strands melt, and the error against a long exposure is no smaller.
    Raises OutputError without the library.
    """
    smooth = library()
    clean: dict[str, LightFrame] = {}
    for name, frame in frames.items():
        noisy = np.maximum(np.ascontiguousarray(frame.mean, np.float32), 0)
        # The library sees every light at the same level; a black frame has nothing to free.
        level = np.float32(noisy.mean())
        if level > 0:
            mean = smooth(noisy / level, shown.albedo, shown.normal, hdr=True, clean_aux=True)
            frame = replace(frame, mean=np.maximum(mean, 0) * level)
        clean[name] = frame
    return clean


def drifts(
    before: Picture, after: Picture, layout: Layout, names: Collection[str] | None = None
) -> tuple[Drift, ...]:
    """How far the filter moves the mean of every patch that has light, largest first.

    names : points that the camera sees (see `sure.patches`)
    """
    height, width = before.standard_error.shape
    old, new = (luminance(each.linear.astype(np.float64)) for each in (before, after))
    found = []
    for place, pixels in patches(layout, (width, height), names).items():
        was, became = float(old[pixels].mean()), float(new[pixels].mean())
        if was > 0 and became > 0:
            squares = np.square(before.standard_error[pixels].astype(np.float64))
            error = float(np.sqrt(squares.sum())) / len(squares) / was / np.log(2)
            found.append(Drift(place, float(stops(became / was)), float(error)))
    return tuple(sorted(found, key=lambda each: -abs(each.drift_stops)))


@dataclass(frozen=True, slots=True)
class Clean:
    """A look without grain, and what that did to its patches."""

    look: Look
    drifts: tuple[Drift, ...]

    @property
    def moved(self) -> tuple[Drift, ...]:
        """Patches that moved far enough to be told of."""
        return tuple(each for each in self.drifts if abs(each.drift_stops) > DRIFT_STOPS)


def clean_look(
    made: Look,
    quality: Quality | int,
    engine: Readers,
    store: FrameStore | None = None,
    names: Collection[str] | None = None,
) -> Clean:
    """A look freed of its grain, with guides of its view in the same quality.

    names : points that the camera sees (see `sure.patches`)
    Raises OutputError without the library, EngineError if the engine fails.
    """
    side = max(made.picture.standard_error.shape)
    frames = denoised(
        made.frames, guides(order_of(made.layout, quality, side), store or FrameStore(), engine)
    )
    picture = mix(frames, made.layout, made.picture.exposure)
    moved = drifts(made.picture, picture, made.layout, names)
    return Clean(replace(made, picture=picture, frames=frames), moved)
