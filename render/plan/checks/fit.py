"""Whether every light and panel fits between ceiling, walls, sitter, camera, operator and door."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from render.layout import Layout
from render.layout.walls import room_box
from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.rig import HEAD_LENGTH_M, HEAD_WIDTH_M, Rig, rigs
from render.scenefile import Setup
from render.sitter.body import Body

Floats = NDArray[np.float64]
SIDES = (("camera-left wall", "camera-right wall"), ("floor", "ceiling"), ("back wall", "wall"))
HANDLING_M = 0.05  # a hand for the knob; common practice, no source
ROOM_TO_MOVE_M = 0.10  # sitters lean and turn; common practice, no source
OPERATOR_M = 0.70  # behind the camera; common practice, no source
OPERATOR_HALF_M, OPERATOR_HEIGHT_M = 0.30, 1.90  # shoulders and a tall adult; from memory
BACK_SHARE = 0.4  # a box narrows to this share behind (see emission.solids)
DOOR_HEIGHT_M = 2.0  # a usual door leaf; from memory


def highest_elevation_deg(
    distance_m: float, room_above_m: float, corners: Sequence[tuple[float, float]]
) -> float:
    """Greatest elevation at which a light that faces a point stays under the ceiling [degrees].

    distance_m   : from the point to the middle of the front
    room_above_m : from the point up to the ceiling
    corners      : (behind the front, half height there) of what may touch it [m]
    returns      : 90 where it may stand straight above, -90 where it fits nowhere
    A corner rises to (d + b) sin e + h cos e = R sin(e + p) above the point (derived).
    """
    highest = 90.0
    for behind, half in corners:
        reach, phase = math.hypot(distance_m + behind, half), math.atan2(half, distance_m + behind)
        if reach > room_above_m:
            share = max(-1.0, room_above_m / reach)
            highest = min(highest, math.degrees(math.asin(share) - phase))
    return highest


def no_room(context: Context) -> str:
    """Why nothing can be held against walls."""
    return "the scene has no room" if context.setup.scene.room is None else ""


def box_of(setup: Setup) -> Floats:
    """Corners of the room (2, 3) [m]."""
    assert setup.scene.room is not None
    return room_box(setup.scene.room, setup.scene.backdrop)


def check_room_fit(context: Context) -> list[Finding]:
    """Clearances of lights and panels from ceiling, floor and walls."""
    setup, box = context.setup, box_of(context.setup)
    found = []
    for rig in rigs(setup, context.layout):
        gaps = _gaps(rig.surface_m, box)
        nearest = min(gaps, key=lambda side: gaps[side])
        cure = _cure(setup, context.layout, rig, nearest) if gaps[nearest] < HANDLING_M else ""
        found.append(_clearance(rig.about, gaps, cure))
    for name, places in _panels(context.layout):
        gaps = _gaps(places, box)
        del gaps["floor"]  # it may stand on it
        found.append(_clearance(f"panel.{name}", gaps, ""))
    return found


def _gaps(places: Floats, box: Floats) -> dict[str, float]:
    """Least distance of places (n, 3) from each inner face of the room [m]; below 0 is through."""
    low, high = places.min(0) - box[0], box[1] - places.max(0)
    gaps = {side[0]: float(low[axis]) for axis, side in enumerate(SIDES)}
    gaps |= {side[1]: float(high[axis]) for axis, side in enumerate(SIDES)}
    gaps["camera wall"] = gaps.pop("wall")
    return gaps


def _clearance(about: str, gaps: dict[str, float], cure: str) -> Finding:
    """The nearest face of the room, and the ceiling where that is another one."""
    order = sorted(gaps, key=lambda side: gaps[side])
    nearest, least = order[0], gaps[order[0]]
    if least < 0:
        through = " and ".join(
            f"{-100 * gaps[s]:.0f} cm into the {s}" for s in order if gaps[s] < 0
        )
        words = f"{about} reaches {through}{cure}."
    else:
        others = [side for side in order[1:2] + ["ceiling"] if side != nearest]
        rest = ", ".join(f"{side} {100 * gaps[side]:.0f} cm" for side in dict.fromkeys(others))
        words = f"{about} is {100 * least:.0f} cm from the {nearest}; {rest}{cure}."
    verdict: Verdict = "wrong" if least < 0 else "look" if least < HANDLING_M else "fine"
    limit = 100 * HANDLING_M
    return Finding("fit", about, verdict, 100 * least, "cm", limit, words)


def _cure(setup: Setup, layout: Layout, rig: Rig, side: str) -> str:
    """What clears a face of the room: a lower elevation under the ceiling, else a step inwards."""
    light = setup.scene.light[rig.light]
    front = next(front for front in layout.fronts if front.name == rig.light)
    step = 100 * (HANDLING_M - _gaps(rig.surface_m, box_of(setup))[side])
    if side != "ceiling":
        return f"; move it {step:.0f} cm inwards"
    if light.distance_m is None or light.aim is not None or front.doors is not None:
        return f"; lower it by {step:.0f} cm"
    half, deep = 0.5 * front.height_m, front.shell_depth_m
    corners = [(-front.recess_m, half), (0.0, half), (deep, BACK_SHARE * half)]
    corners.append((deep + HEAD_LENGTH_M, 0.5 * HEAD_WIDTH_M))
    base = front.centre_m - light.distance_m * -front.normal
    above = float(box_of(setup)[1, 1] - HANDLING_M - base[1])
    highest = math.floor(highest_elevation_deg(light.distance_m, above, corners))
    if not 0 < highest < light.elevation_deg:
        return f"; lower it by {step:.0f} cm"
    return (
        f"; at this distance it clears the ceiling by {100 * HANDLING_M:.0f} cm up to an "
        f"elevation of {highest}°"
    )


def _panels(layout: Layout) -> Iterator[tuple[str, Floats]]:
    """Each panel's name and its corners (k, 3), a V-flat as one."""
    panels = [sheet for sheet in layout.sheets if sheet.kind == "panel"]
    for name in dict.fromkeys(sheet.name for sheet in panels):
        yield name, np.concatenate([s.corners_m for s in panels if s.name == name])


def check_sitter_fit(context: Context) -> list[Finding]:
    """How near lights come to head, hair and shoulders."""
    body = context.layout.body
    assert body is not None
    tree = cKDTree(_sitter_m(body))
    found = []
    for rig in rigs(context.setup, context.layout):
        least = float(tree.query(rig.surface_m)[0].min())
        near = least < ROOM_TO_MOVE_M
        words = f"{rig.about} is {100 * least:.0f} cm from the sitter at its nearest."
        if near:
            words += f" Leave {100 * ROOM_TO_MOVE_M:.0f} cm or more to lean and turn."
        verdict: Verdict = "look" if near else "fine"
        limit = 100 * ROOM_TO_MOVE_M
        about = rig.about
        found.append(Finding("sitter", about, verdict, 100 * least, "cm", limit, words))
    return found


def _sitter_m(body: Body) -> Floats:
    """Places (n, 3) [m] on skin, clothes and hair."""
    parts = [surface.vertices for surface in body.surfaces]
    parts += [strands.points[::4, -1] for strands in body.strands]
    return np.concatenate(parts).astype(np.float64)


def check_operator(context: Context) -> list[Finding]:
    """Room for the photographer behind the camera, and what stands in that place."""
    setup, view = context.setup, context.layout.view
    assert view is not None
    lens = view.position_m
    found = []
    if setup.scene.room is not None:
        behind = float(box_of(setup)[1, 2] - lens[2])
        words = f"From the lens to the wall behind you it is {100 * behind:.0f} cm"
        short = behind < OPERATOR_M
        words += f"; {100 * OPERATOR_M:.0f} are usual to stand there." if short else "."
        verdict: Verdict = "look" if short else "fine"
        limit = 100 * OPERATOR_M
        found.append(Finding("operator", "camera", verdict, 100 * behind, "cm", limit, words))
    low = np.array([lens[0] - OPERATOR_HALF_M, 0.0, lens[2]])
    high = np.array([lens[0] + OPERATOR_HALF_M, OPERATOR_HEIGHT_M, lens[2] + OPERATOR_M])
    for about, places in _standing(context):
        deep = _inside_m(places, low, high)
        if deep > 0:
            words = (
                f"{about} stands {100 * deep:.0f} cm into the photographer's place behind the lens."
            )
            found.append(Finding("operator", about, "wrong", 100 * deep, "cm", 0.0, words))
    return found


def _standing(context: Context) -> Iterator[tuple[str, Floats]]:
    """Lights with their columns, and panels, each as places (n, 3)."""
    for rig in rigs(context.setup, context.layout):
        shares = np.linspace(0, 1, 20)[:, None]
        column = rig.foot_m + shares * (rig.column_m[1] - rig.foot_m)
        held = [rig.surface_m] if rig.kind == "none" else [rig.surface_m, column]
        yield rig.about, np.concatenate(held)
    for name, corners in _panels(context.layout):
        yield f"panel.{name}", corners


def _inside_m(places: Floats, low: Floats, high: Floats) -> float:
    """How deep the deepest of places (n, 3) is inside a box; 0 or less for outside."""
    deep = np.minimum(places - low, high - places)[:, [0, 2]].min(1)
    level = (places[:, 1] >= low[1]) & (places[:, 1] <= high[1])
    return float(deep[level].max(initial=-np.inf))


def no_door(context: Context) -> str:
    """Why no door is kept clear."""
    room = context.setup.scene.room
    return "" if room is not None and room.door is not None else "the room states no door"


def check_door(context: Context) -> list[Finding]:
    """What stands where the door's leaf swings."""
    room = context.setup.scene.room
    assert room is not None
    box, door = box_of(context.setup), room.door
    assert door is not None
    across = 2 if door.wall in ("camera left", "camera right") else 0
    low, high = box[0].copy(), box[1].copy()
    low[across] += door.from_m
    high[across] = low[across] + door.width_m
    other = 2 - across
    if door.wall in ("camera left", "back"):
        high[other] = low[other] + door.width_m
    else:
        low[other] = high[other] - door.width_m
    high[1] = DOOR_HEIGHT_M
    found = []
    for about, places in _standing(context):
        deep = _inside_m(places, low, high)
        if deep > 0:
            words = f"{about} stands {100 * deep:.0f} cm into the swing of the door."
            found.append(Finding("door", about, "wrong", 100 * deep, "cm", 0.0, words))
    if not found:
        words = f"Nothing stands in the {100 * door.width_m:.0f} cm that the door swings over."
        found.append(Finding("door", "room", "fine", 0.0, "cm", 0.0, words))
    return found
