"""Where the meter stands in a front's own axes, and what of the front can be seen from there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import (
    FLAT,
    Cap,
    Front,
    Matte,
    Rectangle,
    beam,
    hot_spot,
    lip_window,
    local_from_room,
)
from render.emission.shapes import sphere_middle, sphere_radius
from render.photometry.receptors import Receptor, dome_response, flat_response

Floats = NDArray[np.float64]
Picks = NDArray[np.intp] | NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Stations:
    """Meter positions and axes in the local axes of one front, with the window each one sees."""

    front: Front
    receptor: Receptor
    at: Floats  # (m, 3) [m]
    axis: Floats  # (m, 3) unit
    window: Floats  # (m, 4) x0, x1, y0, y1 [m] of a rectangle's plane, inside lip and beam
    seen: NDArray[np.bool_]  # (m,) False where nothing of the front can be seen

    def pick(self, which: Picks) -> Stations:
        """The stations of an index or mask (m,)."""
        return Stations(
            self.front,
            self.receptor,
            self.at[which],
            self.axis[which],
            self.window[which],
            self.seen[which],
        )


def stations(front: Front, positions_m: Floats, axes: Floats, receptor: Receptor) -> Stations:
    """Meter positions (m, 3) [m] and unit axes (m, 3), both in the room, seen from a front."""
    at = local_from_room(front, positions_m)
    axis = axes @ np.stack([front.right, front.up, front.normal], -1)
    if isinstance(front.shape, Rectangle):
        window = _window(front, at)
        seen = (window[:, 1] > window[:, 0]) & (window[:, 3] > window[:, 2])
        seen &= at[:, 2] > front.recess_m
    else:
        window = np.zeros((len(at), 4))
        flat = isinstance(front.shape, FLAT)
        seen = at[:, 2] > front.recess_m if flat else ~inside_cloth(front, at)
    return Stations(front, receptor, at, axis, window, seen)


def _window(front: Front, at: Floats) -> Floats:
    """Part (m, 4) [m] of a rectangle that lip and grid leave open for stations (m, 3) [m]."""
    window = lip_window(front, at)
    if front.cells is not None:
        # Beyond these lines the cells are closed for this place.
        reach = at[:, 2:] * np.array(front.cells.slopes)
        window[:, 0::2] = np.maximum(window[:, 0::2], at[:, :2] - reach)
        window[:, 1::2] = np.minimum(window[:, 1::2], at[:, :2] + reach)
    return window


def inside_cloth(front: Front, at: Floats) -> NDArray[np.bool_]:
    """Whether stations (m, 3) [m], local axes, are in the bowl of a cap or in a ball."""
    radius, middle = sphere(front)
    within: NDArray[np.bool_] = np.linalg.norm(at - middle, axis=-1) <= radius
    if isinstance(front.shape, Cap):
        within &= before_rim(front, at) <= 0
    return within


def is_hollow(front: Front) -> bool:
    """Whether a front is a cap that turns its inside to the sitter."""
    return isinstance(front.shape, Cap) and front.shape.hollow


def sphere(front: Front) -> tuple[float, Floats]:
    """Radius [m] and middle (3,) [m], local axes, of the sphere of a cap or ball."""
    if not isinstance(front.shape, Cap):
        return 0.5 * front.width_m, np.zeros(3)
    level = sphere_middle(front.shape, front.width_m)
    return sphere_radius(front.shape, front.width_m), np.array([0.0, 0.0, level])


def rim_level(front: Front) -> float:
    """Local z of the plane of a cap's rim [m]."""
    assert isinstance(front.shape, Cap)
    return 0.0 if front.shape.hollow else -front.shape.depth_m


def before_rim(front: Front, at: Floats) -> Floats:
    """How far (m,) [m] stations are before the opening of a cap, on its hollow side."""
    before: Floats = (at[:, 2] - rim_level(front)) * (1.0 if is_hollow(front) else -1.0)
    return before


def relative_luminance(spots: Stations, x: Floats, y: Floats) -> Floats:
    """Luminance (m, ...) of places x, y (m, ...) [m] towards each station, relative to L0."""
    front, shape = spots.front, (-1,) + (1,) * (x.ndim - 1)
    px, py, pz = (spots.at[:, k].reshape(shape) for k in range(3))
    glow = hot_spot(front, x / (0.5 * front.width_m), y / (0.5 * front.height_m))
    if front.cells is None and isinstance(front.beam, Matte):
        return glow
    return glow * beam(front, (px - x) / pz, (py - y) / pz)


def respond(receptor: Receptor, cosine: Floats) -> Floats:
    """Response (...) [-] of a receptor to light at a cosine (...) from its axis."""
    return flat_response(cosine) if receptor == "flat" else dome_response(cosine)


def reading_density(spots: Stations, x: Floats, y: Floats) -> Floats:
    """What a place on the front adds to the reading, per area and per L0 [1/m²].

    x, y    : (m, k) float  places on the emitting plane, for each station its own [m]
    returns : (m, k) float  p · g · cos(front) · response / distance²
    """
    px, py, pz = (spots.at[:, k, None] for k in range(3))
    ax, ay, az = (spots.axis[:, k, None] for k in range(3))
    dx, dy = x - px, y - py
    distance = np.sqrt(dx * dx + dy * dy + pz * pz)
    cosine = (ax * dx + ay * dy - az * pz) / distance
    bright = relative_luminance(spots, x, y) * respond(spots.receptor, cosine)
    density: Floats = bright * pz / distance**3
    return density
