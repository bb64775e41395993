"""Closer views through the same lens: the face alone, and an eye, in which the light shows."""

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
FACE_HIGH = 2.35  # height of a frame round the face, in heights from chin to forehead; by eye


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
    return replace(layout, view=_closer(lens, eye, eye, (WINDOW_M, WINDOW_M)))


def face_layout(layout: Layout) -> Layout:
    """The set with its frame cut down to the face, in its own proportions.

    As it is where there is no camera or no face, or where the frame is closer already.
    """
    lens, body = layout.view, layout.body
    if lens is None or body is None or not {"chin", "forehead"} <= set(body.landmarks):
        return layout
    chin, brow = (body.landmarks[name].position_m.astype(float) for name in ("chin", "forehead"))
    middle = 0.5 * (chin + brow)
    high = FACE_HIGH * float(np.linalg.norm(brow - chin))
    wide = high * lens.frame_width_m / lens.frame_height_m
    if high >= lens.frame_height_m / lens.image_m * float(np.linalg.norm(lens.position_m - middle)):
        return layout
    nearest = min(
        _corneas(body) or [brow], key=lambda each: float(np.linalg.norm(each - lens.position_m))
    )
    return replace(layout, view=_closer(lens, middle, nearest, (wide, high)))


def _corneas(body: Body) -> list[Floats]:
    """The foremost place (3,) of each eye: its cornea stands out of the ball."""
    found = []
    for part in body.surfaces:
        if part.name.startswith(EYES):
            places = part.vertices.astype(float)
            middle, _ = fitted_ball(places)
            found.append(places[np.argmax(np.linalg.norm(places - middle, axis=1))])
    return found


def _closer(lens: View, middle: Floats, sharp: Floats, size_m: tuple[float, float]) -> View:
    """The lens turned to a place (3,) [m], focused on another, its frame cut down to a size."""
    back = unit(lens.position_m - middle)
    right, up = facing(back)
    turned = replace(lens, right=right, up=up, focus_m=float((lens.position_m - sharp) @ back))
    scale = turned.image_m / float(np.linalg.norm(lens.position_m - middle))
    return replace(turned, frame_width_m=size_m[0] * scale, frame_height_m=size_m[1] * scale)
