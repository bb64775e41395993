"""The film: what every light does to every pixel, by steps that are written down once and repeated.

To think all steps of a light path through takes as long as to take them for a small picture, and
longer on a graphics card. Sizes, counts of samples, the camera and the lights' places are numbers
that the compiler does not look into: one kernel serves all pictures of a set.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.layout.placed import View
from render.trace.moving import POINTS
from render.trace.strata import Strata
from render.trace.tally import bands


class Film:
    """Pictures of one built set, wherever its lights and the camera are."""

    def __init__(self, scene: Any) -> None:
        self._scene = scene
        self._steps: Any = dr.freeze(_layers, auto_opaque=False)
        self._repeats = True
        self._written = 0  # times that steps were written down
        self._kept: list[Any] = []

    def expose(
        self,
        view: View,
        size_px: tuple[int, int],
        samples: int,
        seed: int,
        only: tuple[int, ...] | None = None,
    ) -> Any:
        """The mean (lights, h, w, 3) float32 of some samples per pixel.

        only : numbers of the lights that are wanted; the others then shine on nothing
        """
        width, height = size_px
        lights = range(len(self._scene.emitters())) if only is None else only
        count, pixels = bands(width * height, samples)
        index = dr.opaque(mi.UInt32, 0) + dr.arange(mi.UInt32, pixels * samples)
        lens = _lens(view)
        whole = [mi.UInt32(n) for n in (width, height, samples, (samples - 1).bit_length(), seed)]
        dr.make_opaque(index, lens, whole)
        made = np.empty((len(lights), count * pixels, 3), np.float32)
        with _dark(self._scene, lights):
            for band in range(count):
                first = dr.opaque(mi.UInt32, band * pixels)
                layers = self._exposed(index, first, (pixels, samples), whole, lens)
                part = slice(band * pixels, (band + 1) * pixels)
                for row, light in zip(made, lights, strict=True):
                    row[part] = layers[light].numpy().reshape(-1, 3)
        return made[:, : width * height].reshape(len(lights), height, width, 3)

    def _exposed(self, *asked: Any) -> list[Any]:
        if self._repeats:
            try:
                found: list[Any] = self._steps(self._scene, *asked)
            except RuntimeError:  # a set with parts that cannot be told to change
                self._repeats = False
            else:
                self._keep()
                return found
        return _layers(self._scene, *asked)

    def _keep(self) -> None:
        """Points of meshes stay where the steps that were written down look for them, even when a
        black housing has moved on: what they are there makes no difference."""
        if self._steps.n_recordings != self._written:
            self._written = self._steps.n_recordings
            parameters: Any = mi.traverse(self._scene)
            names = [name for name in parameters.keys() if name.endswith(POINTS)]  # noqa: SIM118
            self._kept += [parameters[name] for name in names]


@contextmanager
def _dark(scene: Any, lights: Collection[int]) -> Iterator[None]:
    """Every other light shines on nothing, so that no ray asks for it."""
    others = [each for k, each in enumerate(scene.emitters()) if k not in lights]
    peaks = [each.peak for each in others]
    try:
        for each in others:
            each.peak = dr.opaque(mi.Float, 0.0)
        yield
    finally:
        for each, peak in zip(others, peaks, strict=True):
            each.peak = peak


def _lens(view: View) -> dict[str, Any]:
    """The camera in numbers [m]."""
    vectors = {name: getattr(view, name) for name in ("position_m", "right", "up", "back")}
    numbers = {
        "half_width": view.frame_width_m / 2 * view.focus_m / view.image_m,
        "half_height": view.frame_height_m / 2 * view.focus_m / view.image_m,
        "focus": view.focus_m,
        "aperture": view.focal_length_m / (2 * view.f_number),
    }
    return {name: mi.Vector3f(*map(float, value)) for name, value in vectors.items()} | {
        name: mi.Float(float(value)) for name, value in numbers.items()
    }


def _layers(
    scene: Any, index: Any, first: Any, size: tuple[int, int], whole: list[Any], lens: Any
) -> list[Any]:
    """What every light does to every pixel of a band: red, green and blue of its first pixel first.

    size : pixels and samples of each as plain numbers, for which steps are written down anew
    """
    samples = size[1]
    width, height, count, bits, seed = whole
    nth = index // count
    # The last band may end beyond the picture; what it shows there is thrown away.
    pixel = first + nth
    strata = Strata(pixel, index - nth * count, bits, seed)
    ray = _ray(pixel, (width, height), lens, strata)
    _, _, channels = scene.integrator().sample(scene, strata, ray)
    channels = [mi.Float(channel) for channel in channels]
    dr.eval(channels)  # together: each sum by itself would trace all of it again
    means = [dr.block_sum(channel, samples) / samples for channel in channels]
    return [dr.ravel(mi.Color3f(means[k : k + 3])) for k in range(0, len(means), 3)]


def _ray(pixel: Any, ground: tuple[Any, Any], lens: Any, strata: Strata) -> Any:
    """Through a place of the pixel and of a thin lens; rows begin at the top."""
    width, height = ground
    row = pixel // width
    column = pixel - row * width
    place, on_lens = strata.next_2d(), mi.warp.square_to_uniform_disk_concentric(strata.next_2d())
    across = 2 * (mi.Float(column) + place.x) / mi.Float(width) - 1
    upward = 1 - 2 * (mi.Float(row) + place.y) / mi.Float(height)
    sharp = lens["position_m"] - lens["focus"] * lens["back"]
    sharp += across * lens["half_width"] * lens["right"]
    sharp += upward * lens["half_height"] * lens["up"]
    start = lens["position_m"] + lens["aperture"] * (
        on_lens.x * lens["right"] + on_lens.y * lens["up"]
    )
    return mi.Ray3f(mi.Point3f(start), dr.normalize(sharp - start))
