"""What a meter reads from each light alone, straight from its front, without the room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.layout.placed import Layout
from render.photometry.receptors import CONSTANTS, Receptor
from render.predict.clear import clear_reading
from render.predict.obstacles import Obstacles
from render.predict.station import stations
from render.predict.visibility import Sight, visible_share

Floats = NDArray[np.float64]

MIN_GAP_M = 5e-4  # lifts the start of a shadow ray off the surface that it leaves


@dataclass(frozen=True, slots=True)
class DirectExposure:
    """Direct readings of m places, one column per light in the order of the layout."""

    luminous_exposure_lx_s: Floats  # (m, lights)
    unobstructed_lx_s: Floats  # (m, lights) with nothing in the way
    visible_fraction: Floats  # (m, lights) share of that which arrives; nan where it is 0
    error_stops: Floats  # (m, lights) error estimate; inf where less arrives than can be told


def aims(positions_m: Floats, front: Front) -> Floats:
    """Unit directions (m, 3) from places (m, 3) [m] to the centre of a front."""
    way = front.centre_m - positions_m
    unit: Floats = way / np.linalg.norm(way, axis=-1, keepdims=True)
    return unit


def direct_exposure(
    layout: Layout,
    positions_m: Floats,
    axes: Floats,
    receptor: Receptor,
    *,
    obstacles: Obstacles | None = None,
    lift: Floats | None = None,
) -> DirectExposure:
    """Luminous exposure that each light alone, at its set power, makes on a receptor.

    positions_m : (m, 3) float  room axes [m]
    axes        : (m, 3) float  where the meter points, any length; or (m, lights, 3), one axis
                  for each light
    receptor    : "flat" or "dome"
    obstacles   : `Obstacles.of(layout)`, or None if nothing is in the way
    lift        : (m, 3) float  unit, off the surface that a place lies on; shadow rays start
                  MIN_GAP_M that way
    raises      : ValueError for an unknown receptor, shapes that do not fit, an axis of length
                  0, or obstacles of another layout
    Source: closed forms for evenly bright fronts, quadrature for others; shadows by rays.
    """
    positions = np.asarray(positions_m, dtype=np.float64)
    count = len(layout.fronts)
    _check(positions, receptor, obstacles, count)
    per_light = _axes_per_light(np.asarray(axes, dtype=np.float64), len(positions), count)
    starts = positions if lift is None else positions + MIN_GAP_M * np.asarray(lift)

    clear, share, error = (np.zeros((len(positions), count)) for _ in range(3))
    for i, front in enumerate(layout.fronts):
        spots = stations(front, positions, per_light[:, i], receptor)
        clear[:, i], error[:, i] = clear_reading(spots)
        lit = np.flatnonzero(clear[:, i] > 0.0)
        share[lit, i] = 1.0
        if obstacles is not None and len(lit):
            arrives, doubt = visible_share(Sight(spots.pick(lit), i, starts[lit], obstacles))
            share[lit, i] = arrives
            error[lit, i] += doubt
    visible = np.where(clear > 0.0, share, np.nan)
    return DirectExposure(clear * share, clear, visible, error)


def _axes_per_light(axes: Floats, places: int, count: int) -> Floats:
    """Unit axes (m, lights, 3) from (m, 3) or (m, lights, 3) of any length."""
    if axes.shape not in {(places, 3), (places, count, 3)}:
        raise ValueError(f"axes must be ({places}, 3) or ({places}, {count}, 3), got {axes.shape}")
    length = np.linalg.norm(axes, axis=-1, keepdims=True)
    if not np.all(length > 0.0):
        raise ValueError("every axis needs a length above 0")
    unit = axes / length
    spread = unit if axes.ndim == 3 else unit[:, None, :]
    return np.broadcast_to(spread, (places, count, 3))


def _check(positions: Floats, receptor: str, obstacles: Obstacles | None, count: int) -> None:
    """Refuse what the caller got wrong."""
    if positions.ndim != 2 or positions.shape[1] != 3:
        raise ValueError(f"positions must be (m, 3), got {positions.shape}")
    if receptor not in CONSTANTS:
        raise ValueError(f"receptor must be one of {sorted(CONSTANTS)}, got {receptor!r}")
    if obstacles is not None and len(obstacles.lights) != count:
        raise ValueError("the obstacles belong to a layout with another number of lights")
