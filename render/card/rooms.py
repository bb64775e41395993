"""The room on the drawings: as much of it as is used, its walls and their names."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.card.canvas import FINE_PT, WALL_PT, Drawing, line
from render.card.content import Card
from render.card.page import GREY, INK, SMALL_PT, line_mm, width_mm
from render.card.words import ACROSS, ALONG, room_box
from render.plan.checks.rig import rigs

Floats = NDArray[np.float64]

WALL_AIR_MM = 2.2  # from a wall to the middle of its name
AROUND_M = 0.3  # left free about a set without walls
LARGE_M, EMPTY_M, KEPT_M = 8.0, 2.0, 0.8  # a larger room is cut where so much is empty, but so much
BREAK_MM, BREAK_SHARE = 1.6, 0.02  # a broken line: how far it swings, in which part of its length
EDGE_M = 1e-6


def extent(card: Card) -> Floats:
    """Corners (2, 3) [m] of what is drawn: the room, cut where a large one is empty.

    Without walls, all that stands in the void.
    """
    used = _used(card)
    box = room_box(card.layout)
    if box is None:
        low, high = used[0] - AROUND_M, used[1] + AROUND_M
        low[1] = 0.0
        return np.stack([low, high])
    drawn: Floats = box.copy()
    for axis in (0, 2):
        if np.ptp(box[:, axis]) < LARGE_M:
            continue
        if used[0, axis] - box[0, axis] > EMPTY_M:
            drawn[0, axis] = used[0, axis] - KEPT_M
        if box[1, axis] - used[1, axis] > EMPTY_M:
            drawn[1, axis] = used[1, axis] + KEPT_M
    return drawn


def _used(card: Card) -> Floats:
    """Corners (2, 3) [m] round everything that stands in the room."""
    places = [row.middle_m for row in card.tape]
    for rig in rigs(card.setup, card.layout):
        places += [rig.surface_m, rig.foot_m, rig.tail_m]
    places += [sheet.corners_m for sheet in card.layout.sheets if sheet.kind != "wall"]
    every = np.concatenate([np.atleast_2d(each) for each in places])
    return np.stack([every.min(0), every.max(0)])


def is_cut(card: Card) -> bool:
    """Whether part of the room is left out of the drawings."""
    box = room_box(card.layout)
    return box is not None and bool(np.abs(extent(card) - box).max() > EDGE_M)


def walls(card: Card, drawing: Drawing, corners: Floats) -> None:
    """Walls, floor and ceiling with their names; a broken line where the room goes on."""
    box = room_box(card.layout)
    if box is None:
        return
    a, b = drawing.seen
    for axis, other in ((a, b), (b, a)):
        for end in (0, 1):
            at = corners[end, axis]
            ends = np.empty((2, 2))
            ends[:, (a, b).index(axis)] = at
            ends[:, (a, b).index(other)] = corners[:, other]
            if abs(at - box[end, axis]) < EDGE_M:
                line(drawing, ends, color=INK, lw=WALL_PT, solid_capstyle="projecting")
                _name(drawing, drawing.page(ends), axis, end)
            else:
                line(drawing, _broken(ends, drawing.mm_per_m), color=INK, lw=FINE_PT)


def _broken(ends: Floats, mm_per_m: float) -> Floats:
    """A line (2, 2) [m] with a swing to both sides in its middle."""
    along = ends[1] - ends[0]
    across = np.array([-along[1], along[0]]) / np.linalg.norm(along) * BREAK_MM / mm_per_m
    middle = ends.mean(0)
    swing = [middle - BREAK_SHARE * along + across, middle + BREAK_SHARE * along - across]
    steps = [middle - 2 * BREAK_SHARE * along, *swing, middle + 2 * BREAK_SHARE * along]
    return np.stack([ends[0], *steps, ends[1]])


def _name(drawing: Drawing, ends: Floats, axis: int, end: int) -> None:
    """The name of a wall, floor or ceiling along its inner side; `ends` on the page [mm]."""
    name = {0: ACROSS[1:], 1: ("floor", "ceiling"), 2: ALONG[1:]}[axis][end]
    wide, high = width_mm(name, SMALL_PT), line_mm(SMALL_PT)
    inward = WALL_AIR_MM if end == 0 else -WALL_AIR_MM
    if axis == drawing.seen[0]:
        if np.ptp(ends[:, 1]) > wide:
            at = (float(ends[0, 0]) + inward, float(ends[:, 1].mean()))
            _named(drawing, name, at, (high, wide), 90)
        return
    right = float(ends[:, 0].max()) - 0.5 * wide - 2 * WALL_AIR_MM
    _named(drawing, name, (right, float(ends[0, 1]) - inward), (wide, high), 0)


def _named(
    drawing: Drawing, name: str, at: tuple[float, float], size: tuple[float, float], turn: float
) -> None:
    """A wall's name, its middle at a place of the page [mm]; labels keep off it."""
    drawing.axes.text(
        *at, name, fontsize=SMALL_PT, color=GREY, ha="center", va="center", rotation=turn, zorder=3
    )
    x, y, half_w, half_h = *at, 0.5 * size[0], 0.5 * size[1]
    drawing.labels.boxes.append((x - half_w, y - half_h, x + half_w, y + half_h))
