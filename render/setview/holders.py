"""What holds a light or a camera up, as plain bodies: column, legs, boom, bag, head."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.emission.front import room_from_local
from render.emission.solids import BACK_SHARE
from render.layout.geometry import UP, direction, unit
from render.setview.pieces import Mesh, box, joined, tube

Floats = NDArray[np.float64]

COLUMN_M, LEG_M, BOOM_M = 0.0175, 0.011, 0.0175  # radii of tubes; stands are 25 to 35 mm thick
HUB_SHARE = 0.9  # legs meet the column this many leg radii up, or half way up a low stand
LOW_SHARE = 0.5
RING_M = (0.152, 0.02)  # width and depth of the plate that joins head and box; from memory
BAG_M = (0.22, 0.13, 0.13)  # of a sand bag over a leg; from memory
LEGS = 3


@dataclass(frozen=True, slots=True)
class Holder:
    """How one light is held; lengths in metres, room axes."""

    light: str
    kind: str  # "stand", "boom" or "none"
    mount_m: Floats  # (3,) where stand or boom takes the head
    foot_m: Floats  # (3,) of the column, on the floor
    tail_m: Floats  # (3,) end of the boom's tail
    leg_radius_m: float
    head_m: tuple[float, float] | None  # width and length of a head behind the housing
    bag: bool = False


def flash_head(front: Front, holder: Holder) -> Mesh:
    """The head behind a housing, with the plate that joins the two; nothing if it is elsewhere."""
    if holder.head_m is None:
        return joined([])
    width, length = holder.head_m
    axes = np.stack([front.right, front.up, front.normal])
    back = -front.shell_depth_m

    def along(z: float) -> Floats:
        return room_from_local(front, np.array([0.0, 0.0, z]))

    parts = [box(along(back - 0.5 * length), axes, (width, width, length))]
    ring, deep = RING_M
    if BACK_SHARE * min(front.width_m, front.height_m) >= ring:
        parts.append(tube(along(back - deep), along(back), 0.5 * ring))
    return joined(parts)


def column(holder: Holder) -> Mesh:
    """The upright of a stand; nothing for a light that nothing holds."""
    return joined([]) if holder.kind == "none" else pole(*_upright(holder), holder.leg_radius_m)


def legs(holder: Holder) -> Mesh:
    """The three legs of a stand, one of them under the load, where it keeps it from tipping."""
    if holder.kind == "none":
        return joined([])
    way = (holder.mount_m - holder.foot_m) * [1, 0, 1]
    return tripod(*_upright(holder), holder.leg_radius_m, way)


def _upright(holder: Holder) -> tuple[Floats, Floats]:
    foot = holder.foot_m * [1, 0, 1]
    return foot, foot + holder.mount_m * [0, 1, 0]


def pole(foot: Floats, top: Floats, leg_radius_m: float) -> Mesh:
    """A column between two places (3,), its lower end off the floor."""
    return tube(foot + 0.5 * _hub_m(top, leg_radius_m) * UP, top, COLUMN_M)


def tripod(foot: Floats, top: Floats, leg_radius_m: float, way: Floats) -> Mesh:
    """Three legs of a column, the first along `way` (3,)."""
    hub = foot + _hub_m(top, leg_radius_m) * UP
    turn = np.degrees(np.arctan2(way[0], way[2])) if np.hypot(way[0], way[2]) > 1e-6 else 0.0
    ends = [foot + leg_radius_m * direction(turn + 360 * k / LEGS, 0.0) for k in range(LEGS)]
    return joined([tube(hub, end + LEG_M * UP, LEG_M) for end in ends])


def _hub_m(top: Floats, leg_radius_m: float) -> float:
    """Height at which legs meet the column [m]."""
    return min(HUB_SHARE * leg_radius_m, LOW_SHARE * float(top[1]))


def boom(holder: Holder) -> Mesh:
    """The bar from the head over the column to its tail; nothing without a boom."""
    if holder.kind != "boom":
        return joined([])
    return tube(holder.mount_m, holder.tail_m, BOOM_M)


def bag(holder: Holder) -> Mesh:
    """The sand bag on a leg, or on the tail of a boom; nothing without one."""
    if not holder.bag or holder.kind == "none":
        return joined([])
    axes = np.eye(3)
    if holder.kind == "boom":
        along = unit(holder.tail_m - holder.mount_m)
        place = holder.tail_m - 0.5 * BAG_M[0] * along - 0.5 * BAG_M[1] * UP
    else:
        place = holder.foot_m + 0.4 * holder.leg_radius_m * direction(180.0, 0.0)
        place = place * [1, 0, 1] + 0.5 * BAG_M[1] * UP
    return box(place, axes, BAG_M)
