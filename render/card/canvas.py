"""One view of the set on the page: from metres of the room to millimetres of the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle
from numpy.typing import NDArray

from render.card.labels import Labels
from render.card.page import INK

Floats = NDArray[np.float64]

FRONT_PT, WALL_PT, EDGE_PT, FINE_PT = 2.0, 1.4, 0.7, 0.4
BEYOND_MM = 1.8  # what stands through a wall shows so far outside it


@dataclass(frozen=True, slots=True)
class Drawing:
    """One view of the set on the page."""

    axes: Axes
    labels: Labels  # its frame is the room
    seen: tuple[int, int]  # room axes that run right and up on the paper
    zero_mm: tuple[float, float]  # page position of the room's origin
    mm_per_m: float
    name: str  # begins the names of what is drawn: "plan" or "side"

    def page(self, points: Floats) -> Floats:
        """Page positions (n, 2) [mm] of flat room points (n, 2) [m]."""
        flat = np.asarray(points, float) * [self.mm_per_m, -self.mm_per_m]
        placed: Floats = flat + np.array(self.zero_mm)
        return placed

    def flat(self, point: Floats) -> Floats:
        """Page position (2,) [mm] of a room point (3,) [m]."""
        placed: Floats = self.page(np.asarray(point)[None, list(self.seen)])[0]
        return placed


def ring(drawing: Drawing, points: Floats, *, zorder: float = 2, **style: object) -> None:
    """A closed outline (n, 2) [m], cut off a little beyond the room."""
    on_page = drawing.page(points)
    style = {"fc": "none", "ec": INK} | style
    patch = drawing.axes.add_patch(Polygon(on_page, closed=True, zorder=zorder, **style))
    _cut(drawing, patch)
    drawing.labels.avoid(on_page, closed=True)


def line(drawing: Drawing, points: Floats, zorder: float = 2, **style: object) -> None:
    """An open line (n, 2) [m], cut off a little beyond the room."""
    on_page = drawing.page(points)
    (drawn,) = drawing.axes.plot(
        on_page[:, 0],
        on_page[:, 1],
        zorder=zorder,
        **style,  # type: ignore[arg-type]
    )
    _cut(drawing, drawn)
    drawing.labels.avoid(on_page)


def _cut(drawing: Drawing, artist: Artist) -> None:
    left, top, right, bottom = drawing.labels.frame
    size = (right - left + 2 * BEYOND_MM, bottom - top + 2 * BEYOND_MM)
    room = Rectangle((left - BEYOND_MM, top - BEYOND_MM), *size, transform=drawing.axes.transData)
    artist.set_clip_path(room)
