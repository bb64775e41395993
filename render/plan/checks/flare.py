"""Flare: light that shines straight on the front lens, and the smallest flag that stops it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.layout.geometry import facing, unit
from render.layout.lens import project, ray_through
from render.layout.placed import View
from render.photometry.stops import stops
from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.frustum import Frustum, clipped
from render.predict import direct_exposure
from render.predict.softness import Shining, shining

Floats = NDArray[np.float64]

# So near to the frame no hood helps; farther out than the second angle a hood keeps the light off.
# Common practice, no source.
NO_HOOD_DEG, NEAR_FRAME_DEG = 10.0, 30.0
LENS_RADIUS_M = 0.036  # front of a portrait lens: filters of 67 to 77 mm; from memory
FLAG_MARGIN_M = 0.02  # each way: a flag is set by hand and eye
FLAG_AT_M = (0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)  # from the light, towards the lens
COSTS_SHARE = 0.05  # a flag may take so much of the light from the sitter unnoticed
LIFT_M = 2e-3  # places of the sitter are read just off the skin
AROUND = 24  # places on the rim of the lens
TARGETS = 6  # places of the sitter that a light lights most


def flare(context: Context) -> list[Finding]:
    """One finding for each light that fires."""
    layout, lens = context.layout, context.layout.view
    assert lens is not None
    eye, axis = lens.position_m[None], -lens.back[None]
    read = direct_exposure(layout, eye, axis, "flat", obstacles=context.obstacles)
    bare = direct_exposure(layout, eye, axis, "flat")
    found = []
    for i, front in enumerate(layout.fronts):
        if front.luminous_energy_lm_s <= 0:
            continue
        light = float(read.luminous_exposure_lx_s[0, i])
        seen = _seen(context, i, lens) if light > 0 else None
        if seen is None or not len(seen.light):
            hidden = float(bare.unobstructed_lx_s[0, i]) > 0
            found.append(_dark(front, hidden))
            continue
        share = float(read.visible_fraction[0, i])
        found.append(_lit(context, i, seen, light, share))
    return found


def _dark(front: Front, hidden: bool) -> Finding:
    why = (
        "something stands before it" if hidden else "it is turned away or its lip or grid hides it"
    )
    words = f"light.{front.name} does not shine on the lens: {why}; 0 % of its front is seen."
    return Finding("flare", f"light.{front.name}", "fine", 0.0, "% of the front seen", 0.0, words)


def _seen(context: Context, index: int, lens: View) -> Shining:
    """The places of a front that the lens sees, the sitter included among what hides it."""
    every = shining(context.layout, index, lens.position_m)
    starts = np.broadcast_to(lens.position_m, every.at_m.shape)
    free = ~context.obstacles.blocked(index, starts, every.at_m) & (every.luminance > 0)
    return Shining(every.at_m[free], every.light[free], every.luminance[free])


def from_frame_deg(lens: View, places: Floats) -> Floats:
    """Angle (n,) [deg] between places (n, 3) [m] and the nearest place of the frame; 0 inside it.

    Beyond 90 degrees from the axis, between the place and the axis.
    """
    ways = unit(places - lens.position_m)
    ahead = -(ways @ lens.back) > 0
    inside = ray_through(lens, np.clip(np.nan_to_num(project(lens, places), nan=0.5), 0.0, 1.0))
    cosine = np.sum(ways * np.where(ahead[:, None], inside, -lens.back), axis=1)
    found: Floats = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return found


def _lit(context: Context, index: int, seen: Shining, light: float, share: float) -> Finding:
    layout, lens = context.layout, context.layout.view
    assert lens is not None
    front = layout.fronts[index]
    outside = float(from_frame_deg(lens, seen.at_m).min())
    ways = unit(seen.at_m - lens.position_m)
    off_axis = float(np.degrees(np.arccos(np.clip(np.max(-(ways @ lens.back)), -1, 1))))
    words = (
        f"light.{front.name} shines on the lens: {100 * share:.0f} % of its front is seen, "
        f"{off_axis:.0f} degrees off the axis and {outside:.0f} outside the frame"
    )
    key = float(np.max(context.face.at_light_lx_s[:, layout.key], initial=0.0))
    if key > 0:
        words += f", {float(stops(light / key)):+.1f} stops of the key on the face"
    far = outside >= NEAR_FRAME_DEG
    words += "; a hood keeps it off." if far else f"; {_cure(context, index, seen)}."
    verdict: Verdict = "look" if outside >= NO_HOOD_DEG else "wrong"
    return Finding(
        check="flare",
        about=f"light.{front.name}",
        verdict="fine" if far else verdict,
        value=outside,
        unit="deg outside the frame",
        limit=NEAR_FRAME_DEG,
        words=words,
    )


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


def _cure(context: Context, index: int, seen: Shining) -> str:
    """The smallest flag that stays out of the frame and leaves the sitter his light, in words."""
    lens = context.layout.view
    assert lens is not None
    frustum, beams = Frustum.of(lens), _beams(context, index)
    fits = []
    for from_light in FLAG_AT_M:
        flag = smallest_flag(lens, seen.at_m, from_light)
        if flag is None:
            break
        card = (flag.corners_m, np.array([[0, 1, 2], [0, 2, 3]]))
        if not clipped(frustum, card) and _cost(flag, beams) <= COSTS_SHARE:
            fits.append(flag)
    if not fits:
        return "no flag stops it without coming into the frame or into the light of the sitter"
    best = min(fits, key=lambda flag: flag.width_m * flag.height_m)
    x, y, z = best.centre_m
    return (
        f"a flag of {100 * best.width_m:.0f} x {100 * best.height_m:.0f} cm stops it, "
        f"{100 * best.from_light_m:.0f} cm before the light with its middle at x {x:.2f}, "
        f"y {y:.2f}, z {z:.2f} m"
    )


Beam = tuple[Floats, Shining]  # a place of the sitter (3,) [m], and what it sees of a light


def _beams(context: Context, index: int) -> list[Beam]:
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
