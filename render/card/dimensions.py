"""Tape lines on the plan: from two walls to the floor under a light, where they can be read."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from render.card.labels import Box, Labels, free
from render.card.page import INK, SMALL_PT, line_mm, put, width_mm

Floats = NDArray[np.float64]

LINE_PT, TICK_MM = 0.35, 1.1  # thickness; half of the stroke across the end
START_MM, STEP_MM, MOST = 4.0, 1.5, 0.7  # places tried for a number: from the wall, of the line
APART_MM = 1.6  # lines side by side are told apart from here
SHORT_MM = 7.0  # a shorter line has no room for its number
INSIDE_MM = 0.3  # of an end, so that a line that begins at a wall does not cross it


def tape_line(
    axes: Axes, labels: Labels, taken: list[Floats], ends: tuple[Floats, Floats], metres: float
) -> bool:
    """A tape line from a wall to a place, both (2,) page positions [mm], with its length on it.

    taken   : the lines (2, 2) so far; a line that is drawn is added
    returns : False where it could not be read and was left out
    """
    wall, place = ends
    length = float(np.linalg.norm(place - wall))
    line = np.stack([wall, place])
    if length < SHORT_MM or any(_too_near(line, other) for other in taken):
        return False
    words = f"{metres:.2f}"
    way = (place - wall) / length
    upright = abs(way[1]) > abs(way[0])
    box = _number_box(labels, wall, way, length, words, upright)
    if box is None:
        return False
    taken.append(line)
    axes.plot(line[:, 0], line[:, 1], color=INK, lw=LINE_PT, zorder=1.5, solid_capstyle="butt")
    slant = TICK_MM * np.array([1.0, -1.0]) / np.sqrt(2)
    stroke = np.stack([wall - slant, wall + slant])
    axes.plot(stroke[:, 0], stroke[:, 1], color=INK, lw=2 * LINE_PT, zorder=6)
    middle = (0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3]))
    axes.fill([box[0], box[2], box[2], box[0]], [box[1], box[1], box[3], box[3]], "w", zorder=1.6)
    put(axes, middle, words, SMALL_PT, align="center", middle=True)
    labels.boxes.append(box)
    labels.avoid(line)
    return True


def _number_box(
    labels: Labels, wall: Floats, way: Floats, length: float, words: str, upright: bool
) -> Box | None:
    """A free place for the number on the line, as near to the wall as there is one."""
    half = 0.5 * np.array([width_mm(words, SMALL_PT) + 0.8, line_mm(SMALL_PT)])
    reach = half[1] if upright else half[0]
    at = START_MM if upright else START_MM + reach
    while at + reach < MOST * length + reach and at + reach < length:
        middle = wall + at * way
        box = (*(middle - half), *(middle + half))
        if free(labels, box):
            return box
        at += STEP_MM
    return None


def _too_near(one: Floats, other: Floats) -> bool:
    """Whether two level or upright lines run side by side."""
    for i in (0, 1):
        along, across = one[:, 1 - i], one[:, i]
        if np.ptp(across) > INSIDE_MM or np.ptp(other[:, i]) > INSIDE_MM:
            continue
        overlap = min(along.max(), other[:, 1 - i].max()) - max(along.min(), other[:, 1 - i].min())
        if overlap > 0 and abs(across.mean() - other[:, i].mean()) < APART_MM:
            return True
    return False
