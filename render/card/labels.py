"""Labels beside what they name, where they cover neither each other nor the drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle
from numpy.typing import NDArray

from render.card.page import BODY_PT, INK, line_mm, put, width_mm

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]  # left, top, right, bottom [mm]

RADII_MM = (4.5, 5.5, 7.0, 8.5, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 23.0, 26.0)
TURNS = 48
DISC_MM = 2.3  # radius of the disc round a mark
AIR_MM = 0.9
SAMPLE_MM = 0.8  # lines of the drawing are seen as dots so far apart
LEADER_MM = 6.5  # a label farther away than this gets a line to its thing
NEVER, COVERED, FAR = 1e4, 15.0, 0.25  # costs: another label, a dot of the drawing, a millimetre


@dataclass
class Labels:
    """What is drawn already, and the labels on it so far."""

    frame: Box
    dots: list[Floats] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)

    def avoid(self, line: Floats, closed: bool = False) -> None:
        """Keep labels off a line (n, 2) [mm]."""
        ring = np.concatenate([line, line[:1]]) if closed else line
        for a, b in pairwise(ring):
            count = max(2, math.ceil(float(np.linalg.norm(b - a)) / SAMPLE_MM))
            self.dots.append(a + np.linspace(0, 1, count)[:, None] * (b - a))


def label(axes: Axes, labels: Labels, at: Floats, mark: str, text: str) -> None:
    """A mark in a disc, and words, beside the best of the places `at` (n, 2) [mm].

    With a line to it where it is far.
    """
    disc = 2 * DISC_MM + 0.8 if mark else 0.0
    wide, high = disc + width_mm(text, BODY_PT), max(2 * DISC_MM, line_mm(BODY_PT))
    places = [(place, box) for place in np.atleast_2d(at) for box in _places(place, wide, high)]
    at, box = min(places, key=lambda each: _cost(labels, *each))
    left, top, right, bottom = box
    labels.boxes.append(box)
    middle = 0.5 * (top + bottom)
    near = np.array([np.clip(at[0], left, right), np.clip(at[1], top, bottom)])
    if np.linalg.norm(near - at) > LEADER_MM:
        axes.plot([at[0], near[0]], [at[1], near[1]], color=INK, lw=0.35, zorder=7)
    box_size = (right - left, bottom - top)
    axes.add_patch(Rectangle((left, top), *box_size, fc="white", ec="none", alpha=0.8, zorder=7.5))
    if mark:
        centre = (left + DISC_MM, middle)
        axes.add_patch(Circle(centre, DISC_MM, fc="white", ec=INK, lw=0.8, zorder=8))
        put(axes, centre, mark, BODY_PT, weight="bold", align="center", middle=True)
    put(axes, (left + disc, middle), text, BODY_PT, middle=True)


def free(labels: Labels, box: Box) -> bool:
    """Whether a box covers no other box and no line of the drawing."""
    left, top, right, bottom = box
    apart = (
        left > other[2] + AIR_MM
        or right < other[0] - AIR_MM
        or top > other[3] + AIR_MM
        or bottom < other[1] - AIR_MM
        for other in labels.boxes
    )
    return all(apart) and not _covered(labels, box)


def _covered(labels: Labels, box: Box) -> int:
    """How many dots of the drawing lie in or just beside a box."""
    left, top, right, bottom = box
    dots = np.concatenate(labels.dots) if labels.dots else np.zeros((0, 2))
    within = (dots[:, 0] > left - AIR_MM) & (dots[:, 0] < right + AIR_MM)
    within &= (dots[:, 1] > top - AIR_MM) & (dots[:, 1] < bottom + AIR_MM)
    return int(within.sum())


def _places(at: Floats, wide: float, high: float) -> list[Box]:
    found = []
    for radius in RADII_MM:
        for k in range(TURNS):
            a = 2 * math.pi * k / TURNS
            # The box touches the ring about the place from outside.
            x = at[0] + radius * math.cos(a) + 0.5 * wide * (math.cos(a) - 1)
            y = at[1] + radius * math.sin(a) + 0.5 * high * (math.sin(a) - 1)
            found.append((x, y, x + wide, y + high))
    return found


def _cost(labels: Labels, at: Floats, box: Box) -> float:
    left, top, right, bottom = box
    frame = labels.frame
    cost = 0.0
    if left < frame[0] or top < frame[1] or right > frame[2] or bottom > frame[3]:
        cost += NEVER
    for other in labels.boxes:
        apart = left > other[2] + AIR_MM or right < other[0] - AIR_MM
        if not (apart or top > other[3] + AIR_MM or bottom < other[1] - AIR_MM):
            cost += NEVER
    reach = math.hypot(0.5 * (left + right) - at[0], 0.5 * (top + bottom) - at[1])
    return cost + COVERED * _covered(labels, box) + FAR * reach
