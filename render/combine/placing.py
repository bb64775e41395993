"""Lay an element into the look's frame: moved, scaled, turned, mirrored, its own edge faded out.

Pixels are mixed in linear light by kernels that are nowhere negative, which leave no halo.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image
from scipy import ndimage

from render.combine.colour import Pixels
from render.combine.recipe import FADE, Element

BILINEAR = Image.Resampling.BILINEAR  # of PIL: widens with the reduction
WHOLE = 1e-6  # pixels and ratios that are whole numbers up to this


@dataclass(frozen=True, slots=True)
class Frame:
    """Where an element lies in the look."""

    size: tuple[int, int]  # width, height of the look [px]
    own: tuple[int, int]  # width, height of the element [px]
    middle: tuple[float, float]  # of the element, in the look [px]
    width: float  # of the element in the look [px]
    turn: float  # clockwise [rad]
    mirror: tuple[bool, bool]  # sideways, upside down

    @property
    def height(self) -> float:
        """Height of the element in the look [px]."""
        return self.width * self.own[1] / self.own[0]


def frame_of(element: Element, own: tuple[int, int], size: tuple[int, int]) -> Frame:
    """Where an element of a size [px] lies in a look of a size [px]."""
    flips = {"sideways": (True, False), "upside down": (False, True), "both": (True, True)}
    return Frame(
        size,
        own,
        (element.at[0] * size[0], element.at[1] * size[1]),
        element.scale * size[0],
        float(np.radians(element.turn_deg)),
        flips.get(element.flip, (False, False)),
    )


def laid(planes: Pixels, frame: Frame) -> Pixels:
    """An element's planes (h, w, c) in the look's frame (H, W, c), black around it.

    Whole pixels stay as they are: an element of the look's size in its middle is not touched.
    """
    if frame.mirror[0]:
        planes = planes[:, ::-1]
    if frame.mirror[1]:
        planes = planes[::-1]
    if abs(frame.width - frame.own[0]) < WHOLE and abs(np.sin(frame.turn)) < WHOLE:
        if np.cos(frame.turn) < 0:
            planes = planes[::-1, ::-1]
        return _shifted(planes, frame)
    width, height = frame.width, frame.height
    small = reduced(planes, max(1, int(np.ceil(width))), max(1, int(np.ceil(height))))
    per = np.array([small.shape[0] / height, small.shape[1] / width])  # its pixels per look's
    cos, sin = np.cos(frame.turn), np.sin(frame.turn)
    back = np.array([[cos, -sin], [sin, cos]])  # (down, across) turned back
    matrix = per[:, None] * back
    middle = np.array([frame.middle[1], frame.middle[0]])
    half = np.array(small.shape[:2]) / 2
    offset = matrix @ (0.5 - middle) + half - 0.5
    out = np.empty((frame.size[1], frame.size[0], planes.shape[2]), np.float32)
    for k in range(planes.shape[2]):
        ndimage.affine_transform(
            small[..., k], matrix, offset, output=out[..., k], output_shape=out.shape[:2],
            order=1, mode="nearest", prefilter=False,
        )  # fmt: skip
    out *= (_inward(frame) > -0.5)[..., None]
    return out


def _shifted(planes: Pixels, frame: Frame) -> Pixels:
    """Planes moved by whole pixels."""
    out = np.zeros((frame.size[1], frame.size[0], planes.shape[2]), np.float32)
    left, top = (round(frame.middle[k] - frame.own[k] / 2) for k in (0, 1))
    a, b = max(0, left), min(frame.size[0], left + frame.own[0])
    c, d = max(0, top), min(frame.size[1], top + frame.own[1])
    if a < b and c < d:
        out[c:d, a:b] = planes[c - top : d - top, a - left : b - left]
    return out


def reduced(planes: Pixels, width: int, height: int) -> Pixels:
    """Planes with at most so many pixels across and down: means over triangles, never negative."""
    size = (min(width, planes.shape[1]), min(height, planes.shape[0]))
    if size == (planes.shape[1], planes.shape[0]):
        return planes
    small = [
        np.asarray(Image.fromarray(np.ascontiguousarray(planes[..., k])).resize(size, BILINEAR))
        for k in range(planes.shape[2])
    ]
    return np.stack(small, -1)


def _inward(frame: Frame) -> Pixels:
    """Distance (H, W) [px] from the look's pixels to the nearest edge of the element, + inside."""
    x = np.arange(frame.size[0], dtype=np.float32) + np.float32(0.5 - frame.middle[0])
    y = np.arange(frame.size[1], dtype=np.float32)[:, None] + np.float32(0.5 - frame.middle[1])
    cos, sin = np.float32(np.cos(frame.turn)), np.float32(np.sin(frame.turn))
    across = np.float32(frame.width / 2) - np.abs(cos * x + sin * y)
    down = np.float32(frame.height / 2) - np.abs(cos * y - sin * x)
    return np.minimum(across, down)


def covers(frame: Frame) -> bool:
    """Whether the element reaches over the whole look, so that no edge of it shows."""
    inward = _inward(frame)
    return bool(min(inward[0, 0], inward[0, -1], inward[-1, 0], inward[-1, -1]) > -WHOLE)


def faded(frame: Frame, fade: float | None) -> Pixels:
    """Weight (H, W) of the element: 1 within, falling smoothly to exactly 0 on its own edge.

    fade : width of the fall as a share of the element's shorter side; None: where an edge shows
    """
    inward = _inward(frame)
    share = (0.0 if covers(frame) else FADE) if fade is None else fade
    wide = share * min(frame.width, frame.height)
    if wide <= 0:
        return np.asarray(np.clip(inward + 0.5, 0, 1), np.float32)
    t = np.clip(inward / np.float32(wide), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)
