"""The look in stops: how far every place lies above or below the face, as a spot meter reads it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from render.layout import Layout, View
from render.layout.lens import project
from render.layout.people import anchors_of
from render.layout.points import cheek_anchors
from render.photometry.srgb import luminance
from render.picture.develop import Picture

Floats = NDArray[np.float64]

SPOT_DEG = 1.0  # angle that a spot meter takes in; common practice, no source
BLUR_SHARE = 1 / 200  # standard deviation of the contours' blur, of the picture's longer side
CARD_LINEAR = 0.18  # of a grey card at the metered f-number
DARKEST_STOPS = -24.0  # stands for no light at all
KEY_CHEEK = "key_cheek"


@dataclass(frozen=True, slots=True)
class Spot:
    """A round part of a picture, as a spot meter at the camera takes it in."""

    x: float  # of its centre [px] from the left and the top edge
    y: float
    radius: float  # [px]


@dataclass(frozen=True, slots=True)
class StopsMap:
    """Reflected light of every pixel, in stops over a reference."""

    stops: Floats  # (h, w) log2 of luminance over the reference's, as traced
    smooth: Floats  # (h, w) the same of luminance averaged over a few pixels, for contours
    blur_px: float  # standard deviation of that average
    reference: float  # luminance of the linear picture that is 0 stops; a metered card is 0.18
    error_stops: float  # standard error of the reference
    spot: Spot | None  # where the reference was read; None: it is the metered grey card


def stops_map(picture: Picture, layout: Layout) -> StopsMap:
    """Stops over the face reading: a one-degree spot from the camera on the key cheek.

    The luminances are those of the linear picture, before any tone curve or clipping. Without a
    sitter, or where the cheek cannot be seen, 0 stops is an 18 % card at the metered f-number.
    """
    light = luminance(picture.linear.astype(np.float64))
    blur_px = BLUR_SHARE * max(light.shape)
    spot = face_spot(layout, light.shape)
    reference, error = CARD_LINEAR, 0.0
    if spot is not None:
        inside = _inside(spot, light.shape)
        read = float(light[inside].mean())
        if read > 0:
            variance = np.square(picture.standard_error[inside].astype(np.float64)).sum()
            error = math.sqrt(float(variance)) / inside.sum() / read / math.log(2)
            reference = read
        else:
            spot = None
    # The average is one of light, as a lens out of focus makes it, not one of stops.
    return StopsMap(
        _stops(light / reference),
        _stops(gaussian_filter(light, blur_px, mode="nearest") / reference),
        blur_px,
        reference,
        error,
        spot,
    )


def _stops(share: Floats) -> Floats:
    stops: Floats = np.log2(np.maximum(share, 2.0**DARKEST_STOPS))
    return stops


def face_spot(layout: Layout, shape: tuple[int, ...]) -> Spot | None:
    """The spot on the cheek that faces the key; None where the camera does not see it whole."""
    if layout.body is None or layout.view is None:
        return None
    cheek = cheek_anchors(anchors_of(layout.body), layout.fronts[layout.key]).get(KEY_CHEEK)
    if cheek is None or float((layout.view.position_m - cheek.position_m) @ cheek.normal) <= 0:
        return None
    high, wide = shape[:2]
    x, y = project(layout.view, cheek.position_m) * (wide, high)
    spot = Spot(float(x), float(y), max(1.0, _spot_radius(layout.view) * wide))
    whole = spot.radius <= spot.x <= wide - spot.radius
    return spot if whole and spot.radius <= spot.y <= high - spot.radius else None


def _spot_radius(lens: View) -> float:
    """Radius of a spot, of the width of the frame."""
    return math.tan(math.radians(SPOT_DEG / 2)) * lens.image_m / lens.frame_width_m


def _inside(spot: Spot, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Pixels whose centre lies in the spot: (h, w); the one that holds its centre at least."""
    y, x = np.ogrid[0.5 : shape[0], 0.5 : shape[1]]
    inside: NDArray[np.bool_] = np.hypot(x - spot.x, y - spot.y) <= spot.radius
    inside[int(spot.y), int(spot.x)] = True
    return inside
