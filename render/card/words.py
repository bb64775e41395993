"""Places, aims and turns in the words of somebody with a tape measure and two walls."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.scenefile import Setup
from render.studio.light import Light
from render.studio.room import Panel

Floats = NDArray[np.float64]
Axis = tuple[int, str, str]  # index of the room axis, wall at its low end, wall at its high end

ACROSS: Axis = (0, "camera-left wall", "camera-right wall")
ALONG: Axis = (2, "back wall", "camera wall")
LEVEL_DEG = 0.5  # nearer to level or straight than this is so on a head's scale
UPRIGHT = 0.1  # of a front that lies flatter, the turn in plan says nothing
NUMBER = r"(-?\d+\.\d+)"
PLACE = re.compile(f"x {NUMBER}, y {NUMBER}, z {NUMBER} m")  # as the checks write a place
KEY = re.compile(r"\b(light|panel)\.(?=\w)")  # before the name of a light or panel


def spoken(name: str) -> str:
    """A name of the scene as it is read aloud."""
    return name.replace("_", " ")


def from_walls(layout: Layout, at: Floats) -> tuple[tuple[str, float], tuple[str, float]]:
    """Named wall and distance [m] across and along the room, of the floor under a place (3,)."""
    return _from_wall(layout, at, ACROSS), _from_wall(layout, at, ALONG)


def _from_wall(layout: Layout, at: Floats, axis: Axis) -> tuple[str, float]:
    """The nearer wall; the one behind the camera where a backdrop hangs before the other."""
    i, low, high = axis
    box = room_box(layout)
    if box is None:
        side = ("camera left of +", "camera right of +") if i == 0 else ("behind +", "before +")
        return side[int(at[i] >= 0)], abs(float(at[i]))
    near, far = float(at[i] - box[0, i]), float(box[1, i] - at[i])
    if i == ALONG[0] and any(sheet.kind == "backdrop" for sheet in layout.sheets):
        return high, far
    return (low, near) if near <= far else (high, far)


def room_box(layout: Layout) -> Floats | None:
    """Corners of the room (2, 3) [m]: least and greatest x, y, z; None without walls."""
    corners = [sheet.corners_m for sheet in layout.sheets if sheet.kind == "wall"]
    if not corners:
        return None
    every = np.concatenate(corners)
    return np.stack([every.min(0), every.max(0)])


def floor_words(across: tuple[str, float], along: tuple[str, float]) -> str:
    """Where something stands: "0.89 from camera-right wall, 2.26 from camera wall"."""
    return ", ".join(
        f"{metres:.2f} {wall}" if wall.endswith("+") else f"{metres:.2f} from {wall}"
        for wall, metres in (across, along)
    )


def place_words(layout: Layout, at: Floats) -> str:
    """A place in the air: its floor point from two walls, and its height."""
    return f"{floor_words(*from_walls(layout, at))}, height {at[1]:.2f}"


def on_the_floor(setup: Setup, layout: Layout, words: str) -> str:
    """A sentence of the checks in the words of the card: tape distances, spoken names."""
    for name in (*setup.scene.light, *setup.scene.panel):
        words = re.sub(rf"\b{re.escape(name)}\b", spoken(name), words)

    def taped(found: re.Match[str]) -> str:
        return place_words(layout, np.array([float(part) for part in found.groups()]))

    return KEY.sub("", PLACE.sub(taped, words))


def aim_words(layout: Layout, light: Light) -> str:
    """What a light is aimed at, in words."""
    return _said(layout, light.aim if light.aim is not None else light.around)


def panel_words(setup: Setup, layout: Layout, panel: Panel) -> str:
    """What a panel's front faces, in words."""
    guarded = panel.guards.light if panel.guards is not None else panel.around
    at = _said(layout, panel.facing if panel.facing is not None else guarded)
    if panel.mirrors:
        return f"mirrors {spoken(panel.mirrors)} to {spoken(panel.around)}"
    return at if panel.opening_deg is None else f"hollow side of the V to {at}"


def _said(layout: Layout, aim: object) -> str:
    return spoken(aim) if isinstance(aim, str) else place_words(layout, np.array(aim, float))


def tilt_words(tilt_deg: float | None) -> str:
    """A tilt as it is set: "28° down"."""
    if tilt_deg is None:
        return ""
    if abs(tilt_deg) < LEVEL_DEG:
        return "level"
    return f"{abs(tilt_deg):.0f}° {'up' if tilt_deg > 0 else 'down'}"


def turn_of(normal: Floats) -> float | None:
    """Angle [deg] in plan between a front's normal (3,) and the camera axis, - to camera left.

    None for a front that lies flat.
    """
    if np.hypot(normal[0], normal[2]) < UPRIGHT:
        return None
    return float(np.degrees(np.arctan2(normal[0], normal[2])))


def turn_words(turn_deg: float | None) -> str:
    """A turn against the camera axis: "42° left"; "straight" looks along it to the camera."""
    if turn_deg is None:
        return ""
    if abs(turn_deg) < LEVEL_DEG:
        return "straight"
    if 180.0 - abs(turn_deg) < LEVEL_DEG:
        return "180°"
    return f"{abs(turn_deg):.0f}° {'right' if turn_deg > 0 else 'left'}"
