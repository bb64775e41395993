"""How sure a look is: the error of every metered patch, light by light, and of a usual pixel."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.layout.lens import project
from render.photometry.srgb import luminance
from render.picture.develop import (
    DARKEST_TONE,
    WINDOW_PX,
    Exposure,
    Picture,
    error_stops,
    mix,
)
from render.trace import LightFrame, Quality
from render.trace.frames import MEANT_STOPS
from render.trace.spots import SHARE_THAT_COUNTS
from render.trace.stopping import bound, freedom
from render.trace.tally import chunks_for, samples_in

Floats = NDArray[np.float64]
Pixels = tuple[NDArray[np.intp], NDArray[np.intp]]  # rows and columns

ALL = "all"
MEDIAN = "median pixel"
GRAZING = 0.2  # cosine to the camera under which a patch is too slanted to be a spot's


@dataclass(frozen=True, slots=True)
class Sure:
    """How sure one place of a look is; its fields are keys of the JSON output."""

    place: str  # a meter point, or "median pixel"
    light: str  # a light alone, or "all"
    standard_error_stops: float  # as estimated
    at_most_stops: float  # its upper bound, which holds however often one has looked


@dataclass(frozen=True, slots=True)
class Sureness:
    """How sure a look is."""

    rows: tuple[Sure, ...]
    samples: Mapping[str, int]  # per pixel, by light
    dark: tuple[str, ...]  # places that no light reaches: nothing to be sure of

    @property
    def worst(self) -> Sure | None:
        """The least sure of all rows; None if there is none."""
        return max(self.rows, key=lambda row: row.at_most_stops, default=None)

    @property
    def median(self) -> Sure | None:
        """The median pixel with all lights on; None in a black picture."""
        return next((row for row in self.rows if row.place == MEDIAN), None)

    def short_of(self, quality: Quality) -> int | None:
        """Samples that the median pixel would need to be as sure as a quality is meant to be,
        where it is less; None where it is sure enough."""
        median, meant = self.median, MEANT_STOPS[quality]
        if median is None or median.standard_error_stops <= meant:
            return None
        times = (median.standard_error_stops / meant) ** 2
        return samples_in(chunks_for(math.ceil(min(self.samples.values()) * times)))

    def above(self, wanted_stops: float) -> dict[str, float]:
        """Lights that are not sure enough, with how many times too large their error may be."""
        times: dict[str, float] = {}
        for row in self.rows:
            much = row.at_most_stops / wanted_stops
            if much > max(1.0, times.get(row.light, 0.0)):
                times[row.light] = much
        return times


def patches(
    layout: Layout, size_px: tuple[int, int], names: Collection[str] | None = None
) -> dict[str, Pixels]:
    """Pixels of the meter points' patches in the picture.

    names   : points that the camera sees; None for all whose patch faces it and lies in the frame
    returns : by point; hair is looked into, whichever way its outline faces
    """
    lens, found = layout.view, {}
    if lens is None:
        return {}
    for point in layout.points:
        if not len(point.patch_m) or (names is not None and point.name not in names):
            continue
        towards = lens.position_m - point.position_m
        faces = float(towards @ point.normal) > GRAZING * float(np.linalg.norm(towards))
        places = np.floor(project(lens, point.patch_m) * size_px)
        if (faces or point.on == "hair") and np.all((places >= 0) & (places < size_px)):
            columns, rows = np.unique(places.astype(np.intp), axis=0).T
            found[point.name] = rows, columns
    return found


def sureness(
    frames: Mapping[str, LightFrame],
    layout: Layout,
    exposure: Exposure,
    names: Collection[str] | None = None,
) -> Sureness:
    """How sure every patch is, for each light and for all together, and the median pixel [stops].

    A light that gives less than 1/32 of a place's light counts as giving that much, and a place
    under the darkest tone as that dark: errors of less are not seen in a picture.
    names : points that the camera sees (see `patches`)
    """
    height, width = next(iter(frames.values())).variance.shape
    where = patches(layout, (width, height), names)
    picture = mix(frames, layout, exposure)
    together = _light(picture)
    rows: list[Sure] = []
    for name in (*frames, ALL):
        only = frames if name == ALL else {name: frames[name]}
        samples = min(frame.samples for frame in only.values())
        own = together if name == ALL else _light(mix(only, layout, exposure))
        share = 1.0 if name == ALL else SHARE_THAT_COUNTS
        for place, pixels in where.items():
            bright = float(together[0][pixels].mean())
            if bright > 0:
                least = share * max(bright, DARKEST_TONE)
                rows.append(_patch(place, name, own, pixels, least, samples))
    if (median := _median(picture, chunks_for(samples))) is not None:
        rows.append(median)
    dark = tuple(place for place, pixels in where.items() if together[0][pixels].mean() <= 0)
    return Sureness(tuple(rows), {name: frame.samples for name, frame in frames.items()}, dark)


def _light(picture: Picture) -> tuple[Floats, Floats]:
    """Luminance of every pixel and its variance."""
    light: Floats = luminance(picture.linear.astype(np.float64))
    return light, np.square(picture.standard_error.astype(np.float64))


def _patch(
    place: str,
    name: str,
    own: tuple[Floats, Floats],
    pixels: Pixels,
    least: float,
    samples: int,
) -> Sure:
    """Of the mean of a patch. Pixels are independent: each has its own paths."""
    light, variance = own[0][pixels], own[1][pixels]
    paths = float(samples * len(variance))
    error = math.sqrt(float(variance.sum())) / len(variance)
    stops = error / max(float(light.mean()), least) / math.log(2)
    return Sure(place, name, stops, stops * bound(freedom(variance, chunks_for(samples), paths)))


def _median(picture: Picture, chunks: int) -> Sure | None:
    """Of the pixel that half of those with tone are surer than."""
    stops = error_stops(picture)
    if not math.isfinite(stops):
        return None
    windows = max(1.0, picture.standard_error.size / WINDOW_PX**2)
    return Sure(MEDIAN, ALL, stops, stops * bound(windows * (chunks - 1)))
