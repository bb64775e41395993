"""A set small enough to trace in a moment: a ball, a sheet, two fronts, a camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.layout.placed import Layout, View
from tests.sets import ball, front, layout, sheet

SIZE = (24, 30)
X, Y = [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]
GREY = (0.18, 0.18, 0.18)


def view() -> View:
    """85 mm at f/8 from two metres, upright frame, level with the ball."""
    return View(np.array([0.0, 1.2, 2.0]), np.array(X), np.array(Y), 0.085, 8.0, 0.024, 0.03, 1.9)


def portrait() -> Layout:
    """Key from camera left, fill from camera right, a grey sheet behind a grey ball."""
    key = front([0.6, -0.3, -0.8], [-0.8, 1.6, 0.9], name="key")
    fill = front([-0.7, 0.0, -1.0], [0.9, 1.2, 1.2], name="fill", width_m=0.9)
    paper = sheet([0, 1.2, -1.3], X, Y, 2.0, 2.0, name="paper", kind="backdrop", reflectance=GREY)
    made = layout(key, fill, sheets=(paper,), body=ball([0, 1.2, 0], 0.1, 3))
    return replace(made, view=view())
