"""First pictures: few samples of a set, by steps that are written down once and then only repeated.

To think all steps of a light path through takes longer than a graphics card needs to take them.
"""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.layout.placed import View


class Glimpse:
    """Coarse pictures of one built set, wherever its lights and the camera are."""

    def __init__(self, scene: Any) -> None:
        self._scene = scene
        self._steps: Any = dr.freeze(_layers)
        self._repeats = True

    def film(self, view: View, size_px: tuple[int, int], samples: int, seed: int) -> Any:
        """The mean (lights, h, w, 3) float32 of independent samples per pixel."""
        width, height = size_px
        index = dr.arange(mi.UInt32, width * height * samples)
        ground = mi.UInt32(width), mi.UInt32(height)
        lens = _lens(view)
        dr.make_opaque(index, ground, lens)
        # Steps are written down for each size, told by plain numbers.
        size = *size_px, samples
        asked = self._scene, index, size, ground, lens, dr.opaque(mi.UInt32, seed)
        if self._repeats:
            try:
                found = self._steps(*asked)
            except RuntimeError:  # a set with parts that cannot be told to change
                self._repeats = False
        if not self._repeats:
            found = _layers(*asked)
        return np.stack([np.array(layer).reshape(height, width, 3) for layer in found])


def _lens(view: View) -> dict[str, Any]:
    """The camera in numbers that the compiler does not look into [m]."""
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
    scene: Any, index: Any, size: tuple[int, int, int], ground: Any, lens: Any, seed: Any
) -> list[Any]:
    """What every light does to every pixel: red, green and blue of the first pixel first."""
    samples = size[2]
    sampler: Any = mi.load_dict({"type": "independent"})
    sampler.seed(seed, dr.width(index))
    ray = _ray(index // samples, ground, lens, sampler)
    _, _, channels = scene.integrator().sample(scene, sampler, ray)
    channels = [mi.Float(channel) for channel in channels]
    dr.eval(channels)  # together: each sum by itself would trace all of it again
    means = [dr.block_sum(channel, samples) / samples for channel in channels]
    return [dr.ravel(mi.Color3f(means[k : k + 3])) for k in range(0, len(means), 3)]


def _ray(pixel: Any, ground: Any, lens: Any, sampler: Any) -> Any:
    """Through a place of the pixel and of a thin lens; rows begin at the top."""
    width, height = ground
    row = pixel // width
    column = pixel - row * width
    place, on_lens = sampler.next_2d(), mi.warp.square_to_uniform_disk(sampler.next_2d())
    across = 2 * (mi.Float(column) + place.x) / mi.Float(width) - 1
    upward = 1 - 2 * (mi.Float(row) + place.y) / mi.Float(height)
    sharp = lens["position_m"] - lens["focus"] * lens["back"]
    sharp += across * lens["half_width"] * lens["right"]
    sharp += upward * lens["half_height"] * lens["up"]
    start = lens["position_m"] + lens["aperture"] * (
        on_lens.x * lens["right"] + on_lens.y * lens["up"]
    )
    return mi.Ray3f(mi.Point3f(start), dr.normalize(sharp - start))
