"""Which things of a set fall into the picture at this lens and crop, counted in pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from render.layout.placed import View
from render.setview.eye import Eye
from render.setview.raster import identify
from render.setview.solids import Solid

FRAME_PX = 1200  # along the longer side: a pixel of a head-and-shoulders frame is 0.6 mm
Box = tuple[int, int, int, int]  # left, top, right, bottom [px], the last two just outside


@dataclass(frozen=True, slots=True)
class InFrame:
    """What the lens sees of one part of one thing."""

    name: str
    part: str
    share: float  # of the frame, 0 to 1
    box_px: Box
    size_px: tuple[int, int]  # width and height of the frame that is counted


def frame_size(lens: View, longer_px: int = FRAME_PX) -> tuple[int, int]:
    """Width and height [px] of a frame with square pixels."""
    longer = max(lens.frame_width_m, lens.frame_height_m)
    width, height = lens.frame_width_m / longer, lens.frame_height_m / longer
    return max(1, round(longer_px * width)), max(1, round(longer_px * height))


def seen_in_frame(
    solids: Sequence[Solid], lens: View, longer_px: int = FRAME_PX
) -> tuple[InFrame, ...]:
    """Every part of which at least the middle of one pixel shows, the largest share first.

    Sharp, as if everything were in focus; hair and clear lenses hide nothing.
    Raises ViewError where the machine has no GL.
    """
    size = frame_size(lens, longer_px)
    index = identify([solid.mesh for solid in solids], Eye.of(lens), size).index
    found = []
    counts = np.bincount(index[index >= 0], minlength=len(solids))
    for i in (int(k) for k in np.flatnonzero(counts)):
        rows, columns = np.nonzero(index == i)
        box = (
            int(columns.min()),
            int(rows.min()),
            int(columns.max()) + 1,
            int(rows.max()) + 1,
        )
        share = float(counts[i]) / index.size
        found.append(InFrame(solids[i].name, solids[i].part, share, box, size))
    return tuple(sorted(found, key=lambda each: -each.share))
