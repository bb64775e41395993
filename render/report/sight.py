"""Which of the metered places the camera sees."""

from __future__ import annotations

import numpy as np

from render.layout import Layout
from render.predict import Obstacles

LIFT_M = 1e-3  # a place is looked at from just over its surface


def in_sight(layout: Layout, obstacles: Obstacles | None = None) -> tuple[str, ...]:
    """Names of the meter points that nothing solid hides from the camera; none without one.

    obstacles : of the layout, where they are known already; hair is none
    """
    if layout.view is None or not layout.points:
        return ()
    known = obstacles or Obstacles.of(layout)
    places = np.array([point.position_m + LIFT_M * point.normal for point in layout.points])
    seen = known.clear_sight(layout.view.position_m, places)
    return tuple(point.name for point, clear in zip(layout.points, seen, strict=True) if clear)
