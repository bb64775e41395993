"""A close view of one eye, in which the shape of the light shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout, View
from render.layout.geometry import facing, fitted_ball, unit
from render.sitter.body import Body

Floats = NDArray[np.float64]
EYES = "eye_sitter_"  # how the names of the sitter's eyes begin
WINDOW_M = 0.015  # side of the square that shows: an iris is 12 mm across


def catchlight_layout(layout: Layout) -> Layout | None:
    """The set seen through the same lens, turned to the eye nearer to the key and cropped to it.

    returns : None without a camera, or where the sitter's mesh has no eyes of its own
    """
    lens, body = layout.view, layout.body
    if lens is None or body is None:
        return None
    corneas = _corneas(body)
    if not corneas:
        return None
    light = layout.fronts[layout.key].centre_m
    eye = min(corneas, key=lambda each: float(np.linalg.norm(each - light)))
    return replace(layout, view=_close_view(lens, eye))


def _corneas(body: Body) -> list[Floats]:
    """The foremost place (3,) of each eye: its cornea stands out of the ball."""
    found = []
    for part in body.surfaces:
        if part.name.startswith(EYES):
            places = part.vertices.astype(float)
            middle, _ = fitted_ball(places)
            found.append(places[np.argmax(np.linalg.norm(places - middle, axis=1))])
    return found


def _close_view(lens: View, eye: Floats) -> View:
    """The lens turned to an eye (3,) [m] and focused on it, its frame cut down to WINDOW_M."""
    away = float(np.linalg.norm(lens.position_m - eye))
    right, up = facing(unit(lens.position_m - eye))
    turned = replace(lens, right=right, up=up, focus_m=away)
    side = WINDOW_M * turned.image_m / away
    return replace(turned, frame_width_m=side, frame_height_m=side)
