"""What keeps a light off the lens: the smallest flag, or the least turn of the light."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.layout.geometry import facing, unit
from render.layout.placed import View
from render.photometry.stops import stops
from render.plan.checks.finding import Context
from render.plan.checks.frustum import Frustum, clipped
from render.predict import direct_exposure
from render.predict.softness import Shining, shining
from render.sitter.body import Body

Floats = NDArray[np.float64]

LENS_RADIUS_M = 0.036  # front of a portrait lens: filters of 67 to 77 mm; from memory
FLAG_MARGIN_M = 0.02  # each way: a flag is set by hand and eye
FLAG_AT_M = (0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)  # from the light, towards the lens
COSTS_SHARE = 0.05  # a flag may take so much of the light from the sitter unnoticed
CLEAR_M = 0.03  # of sitter and hair
LIFT_M = 2e-3  # places of the sitter are read just off the skin
AROUND = 24  # places on the rim of the lens
TARGETS = 6  # places of the sitter that a light lights most
TURNS_DEG = (5, 10, 15, 20, 25, 30)
MOST_COST_STOPS = -1.0  # a turn that takes more from the sitter is another lighting

Beam = tuple[Floats, Shining]  # a place of the sitter (3,) [m], and what it sees of a light


@dataclass(frozen=True, slots=True)
class Flag:
    """A black card at right angles to the line from the light to the lens."""

    centre_m: Floats  # (3,)
    right: Floats  # (3,) unit
    up: Floats  # (3,) unit
    width_m: float
    height_m: float
    from_light_m: float

    @property
    def corners_m(self) -> Floats:
        """(4, 3) [m]."""
        x, y = 0.5 * self.width_m * self.right, 0.5 * self.height_m * self.up
        corners: Floats = self.centre_m + np.array([-x - y, x - y, x + y, -x + y])
        return corners

    def crossed(self, starts: Floats, ends: Floats) -> NDArray[np.bool_]:
        """Whether the stretches from (n, 3) to (n, 3) [m] go through the card."""
        normal = np.cross(self.right, self.up)
        a, b = (starts - self.centre_m) @ normal, (ends - self.centre_m) @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            at = starts + (a / (a - b))[:, None] * (ends - starts) - self.centre_m
        inside = np.abs(at @ self.right) <= 0.5 * self.width_m
        inside &= np.abs(at @ self.up) <= 0.5 * self.height_m
        through: NDArray[np.bool_] = (a * b < 0) & inside
        return through


def smallest_flag(lens: View, seen: Floats, from_light_m: float) -> Flag | None:
    """The upright card that hides places (n, 3) [m] of a light from all of the front lens.

    from_light_m : from the nearest of the places, towards the lens
    returns      : None where there is no room for it before the lens
    """
    way = lens.position_m - seen.mean(0)
    towards = unit(way)
    level = float(np.max(seen @ towards)) + from_light_m
    if level > lens.position_m @ towards - LENS_RADIUS_M:
        return None
    right, up = facing(towards)
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    across, above = facing(-lens.back)
    rim = lens.position_m + LENS_RADIUS_M * (
        np.outer(np.cos(turn), across) + np.outer(np.sin(turn), above)
    )
    starts = np.repeat(seen, AROUND, axis=0)
    ends = np.tile(rim, (len(seen), 1))
    height, end = starts @ towards, ends @ towards
    at = starts + ((level - height) / (end - height))[:, None] * (ends - starts)
    x, y = at @ right, at @ up
    middle = 0.5 * (x.min() + x.max()) * right + 0.5 * (y.min() + y.max()) * up + level * towards
    size = np.array([np.ptp(x), np.ptp(y)]) + 2 * FLAG_MARGIN_M
    return Flag(middle, right, up, float(size[0]), float(size[1]), from_light_m)


def best_flag(context: Context, seen: Shining, beams: list[Beam]) -> Flag | None:
    """The smallest flag that stays out of frame and sitter and leaves the sitter his light."""
    lens, body = context.layout.view, context.layout.body
    assert lens is not None
    frustum, fits = Frustum.of(lens), []
    for from_light in FLAG_AT_M:
        flag = smallest_flag(lens, seen.at_m, from_light)
        if flag is None:
            break
        card = (flag.corners_m, np.array([[0, 1, 2], [0, 2, 3]]))
        if clipped(frustum, card) or _cost(flag, beams) > COSTS_SHARE:
            continue
        if body is None or not _touches(flag, body):
            fits.append(flag)
    return min(fits, key=lambda flag: flag.width_m * flag.height_m) if fits else None


def _touches(flag: Flag, body: Body) -> bool:
    """Whether sitter or hair come too near to a card."""
    parts = [part.vertices for part in body.surfaces]
    parts += [strands.points.reshape(-1, 3) for strands in body.strands]
    at = np.concatenate(parts).astype(float) - flag.centre_m
    near = np.abs(at @ np.cross(flag.right, flag.up)) < CLEAR_M
    near &= np.abs(at @ flag.right) < 0.5 * flag.width_m + CLEAR_M
    near &= np.abs(at @ flag.up) < 0.5 * flag.height_m + CLEAR_M
    return bool(near.any())


def beams_on_sitter(context: Context, index: int) -> list[Beam]:
    """The places of the sitter that a light lights most."""
    layout = context.layout
    if layout.body is None:
        return []
    marks = list(layout.body.landmarks.values())
    at = np.array([mark.position_m + LIFT_M * mark.normal for mark in marks], float)
    aimed = unit(layout.fronts[index].centre_m - at)
    read = direct_exposure(layout, at, aimed, "flat", obstacles=context.obstacles)
    light = read.luminous_exposure_lx_s[:, index]
    bright = [k for k in np.argsort(-light)[:TARGETS] if light[k] > 0.5 * light.max()]
    return [(at[k], shining(layout, index, at[k])) for k in bright]


def _cost(flag: Flag, beams: list[Beam]) -> float:
    """Share of the light on the brightest places of the sitter that a flag takes, at most."""
    worst = 0.0
    for place, lit in beams:
        taken = flag.crossed(lit.at_m, np.broadcast_to(place, lit.at_m.shape)) @ lit.light
        worst = max(worst, float(taken / lit.light.sum()) if lit.light.sum() > 0 else 0.0)
    return worst


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn of a light that keeps it off the lens."""

    degrees: int
    way: str
    stops: float  # change of its light where it lights the sitter most, shadows left out


def least_turn(context: Context, index: int, beams: list[Beam]) -> Turn | None:
    """The least turn after which the lens sees nothing of the front; None where none will do."""
    layout, lens = context.layout, context.layout.view
    assert lens is not None
    front, places = layout.fronts[index], np.array([place for place, _ in beams])
    if not len(places):
        return None
    # Of a light that looks away from the camera, the own right is camera left.
    level = front.up if front.normal[2] >= 0 else -front.up
    axes = {"to camera right": level, "to camera left": -level}
    axes |= {"down": front.right, "up": -front.right}
    before = _bare(context, front, places)
    for degrees in TURNS_DEG:
        turns = []
        for name, axis in axes.items():
            turned = turned_front(front, axis, degrees)
            if _bare(context, turned, lens.position_m[None]).max() > 0:
                continue
            after = float(_bare(context, turned, places).mean() / before.mean())
            change = float(stops(after)) if after > 0 else -np.inf
            turns.append(Turn(degrees, name, change))
        best = max(turns, key=lambda turn: turn.stops, default=None)
        if best is not None and best.stops > MOST_COST_STOPS:
            return best
    return None


def _bare(context: Context, front: Front, places: Floats) -> Floats:
    """Light of a front on receptors (n,) aimed at it, with nothing in the way [lx·s]."""
    alone = replace(context.layout, fronts=(front,))
    axes = unit(front.centre_m - places)
    return direct_exposure(alone, places, axes, "flat").luminous_exposure_lx_s[:, 0]


def turned_front(front: Front, axis: Floats, degrees: float) -> Front:
    """A front turned about an axis (3,) through its middle, right-handed."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))

    def turned(vector: Floats) -> Floats:
        along = (axis @ vector) * axis * (1 - c)
        rotated: Floats = vector * c + np.cross(axis, vector) * s + along
        return rotated

    return replace(front, right=turned(front.right), up=turned(front.up))
