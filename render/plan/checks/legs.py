"""How a light stand is turned so that its three legs stand clear of the walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.plan.checks.rig import Rig

Floats = NDArray[np.float64]

LEGS = 3
STEP_DEG = 2.0
LEVEL = 1e-6  # [m], nearer than this is no way to anywhere


@dataclass(frozen=True, slots=True)
class Legs:
    """The feet of a stand, turned as well as the walls allow."""

    ends_m: Floats  # (3, 3) on the floor
    over_m: float  # how far the worst of them reaches into a wall; 0 where they stand clear


def turned_legs(rig: Rig, box: Floats | None) -> Legs:
    """Legs turned as little as the walls allow from one leg under the load.

    box : corners (2, 3) [m] of the room, or None without walls
    A leg goes under the load: common practice, no source.
    """
    offset = np.radians(np.arange(0.0, 360.0 / LEGS, STEP_DEG))
    offset = np.where(offset > np.pi / LEGS, offset - 2 * np.pi / LEGS, offset)
    offset = offset[np.argsort(np.abs(offset), kind="stable")]
    x, z = _load(rig)
    angles = np.arctan2(x, z) + offset[:, None] + 2 * np.pi * np.arange(LEGS) / LEGS
    ways = np.stack([np.sin(angles), np.zeros_like(angles), np.cos(angles)], -1)
    ends = rig.foot_m * [1, 0, 1] + rig.leg_radius_m * ways  # (turns, 3, 3)
    over = np.zeros(len(ends))
    if box is not None:
        outside = np.maximum(box[0] - ends, ends - box[1])[..., [0, 2]]
        over = np.maximum(outside.max(axis=(1, 2)), 0.0)
    best = int(np.argmin(np.round(over, 4)))
    return Legs(ends[best], float(over[best]))


def _load(rig: Rig) -> Floats:
    """The way (2,) in plan from the column to its load; to the mark where that is overhead."""
    load = rig.mount_m if rig.kind == "boom" else rig.front_m
    way = (load - rig.foot_m)[[0, 2]]
    if np.linalg.norm(way) < LEVEL:
        way = -rig.foot_m[[0, 2]]
    return np.asarray(way if np.linalg.norm(way) > LEVEL else [0.0, 1.0], float)
