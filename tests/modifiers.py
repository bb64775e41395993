"""One front of every kind that a small studio has, each in typical size (no source)."""

from __future__ import annotations

from typing import Any

import numpy as np

from render.emission import (
    Ball,
    Cap,
    Cells,
    Disk,
    Doors,
    Front,
    Honeycomb,
    Lobe,
    Polygon,
    Tabulated,
)
from tests.sets import front


def square(size: float, **changed: Any) -> Front:
    """A front as high as wide."""
    return front(width_m=size, height_m=size, **changed)


MEASURED = Tabulated(
    np.array([0, 10, 25, 60, 90.0]),
    np.array([0, 90, 180, 270, 360.0]),
    np.array(
        [
            [1, 0.8, 0.5, 0.1, 0],
            [1, 0.6, 0.3, 0.05, 0],
            [1, 0.9, 0.5, 0.2, 0],
            [1, 0.5, 0.3, 0.0, 0],
            [1, 0.8, 0.5, 0.1, 0],
        ]
    ),
)
FRONTS = {
    "octa": square(0.9, shape=Polygon(8), edge_falloff_stops=1.0),
    "octa with lip": square(0.9, shape=Polygon(8), recess_m=0.06),
    "octa with grid": square(0.9, shape=Polygon(8), cells=Cells(0.05, 0.04, 0.05)),
    "round box": square(0.6, shape=Disk(), edge_falloff_stops=0.7),
    "dish": square(0.55, shape=Disk(0.165, 0.1), edge_falloff_stops=0.5, recess_m=0.03),
    "snoot": square(0.07, shape=Disk(), recess_m=0.15),
    "honeycomb": square(0.18, shape=Disk(), beam=Lobe(60), cells=Honeycomb(0.006, 0.012)),
    "reflector": square(0.18, shape=Disk(), beam=Lobe(55), recess_m=0.02),
    "measured": square(0.3, shape=Disk(), beam=MEASURED),
    "barn doors": square(0.18, shape=Disk(), beam=Lobe(80), doors=Doors(30, 30, 45, None, 0.15)),
    "shoot-through": square(1.0, shape=Cap(0.18, False, 0.4), head_m=(0.12, 0.2)),
    "umbrella": square(1.0, shape=Cap(0.2, True), head_m=(0.12, 0.2)),
    "silver umbrella": square(1.0, shape=Cap(0.2, True), beam=Lobe(90), edge_falloff_stops=0.6),
    "thin umbrella": square(1.0, shape=Cap(0.25, True, 0.3)),
    "bare tube": square(0.08, shape=Ball(), head_m=(0.12, 0.3)),
    "lantern": square(0.5, shape=Ball(), head_m=(0.12, 0.2)),
}
