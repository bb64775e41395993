"""Where everything stands, as a tape measure finds it: two walls, the floor, the sitter's eyes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.card.words import aim_words, from_walls, panel_words, spoken, turn_of
from render.emission import Front
from render.layout import Layout, Sheet, View
from render.layout.people import anchors_of, eyes_of
from render.scenefile import Setup

Floats = NDArray[np.float64]

MARK, CAMERA, BACKDROP = "+", "C", "B"  # marks of what is neither light nor panel
EYES = "eyes of the sitter"
OVER = "place that lights stand round"  # where nobody sits and nothing else is
SAME_M = 0.05  # a meter point so near is the place; by hand
AXIS_M = 1.0  # length of the axis line where the aim is not a place that can be looked up


@dataclass(frozen=True, slots=True)
class Taped:
    """One thing of the set and its tape distances [m]."""

    mark: str  # as drawn: a number for a light, a letter for a panel
    name: str
    middle_m: Floats  # (3,) middle of the front
    across: tuple[str, float]  # named wall, distance of the point under the middle [m]
    along: tuple[str, float]
    height_m: float
    tilt_deg: float | None  # + up, - down; None for what has no front
    turn_deg: float | None  # in plan, from the camera axis, - to camera left
    eyes_m: float
    aim: str


def taped(setup: Setup, layout: Layout) -> list[Taped]:
    """Sitter or what is there instead, camera, lights in the scene's order, panels leaf by leaf."""
    eyes = eyes_of(setup.scene.sitter)
    rows = [_row(layout, eyes, (MARK, marked(layout, eyes)), eyes, None, "")]
    if layout.view is not None:
        view = layout.view
        aim = f"height {_crossing_m(view, eyes):.2f} over +"
        row = _row(layout, eyes, (CAMERA, "camera, lens"), view.position_m, -view.back, aim)
        rows.append(replace(row, turn_deg=None))
    sheet = hung(layout)
    if sheet is not None:
        top = sheet.centre_m + 0.5 * sheet.height_m * sheet.up
        across = top - eyes * [0, 1, 0]
        row = _row(layout, eyes, (BACKDROP, "backdrop, its top"), top, None, "")
        rows.append(replace(row, eyes_m=float(np.linalg.norm(across[[0, 2]]))))
    for i, (front, light) in enumerate(zip(layout.fronts, setup.scene.light.values(), strict=True)):
        mark, aim = (str(i + 1), spoken(front.name)), aim_words(layout, light)
        rows.append(_row(layout, eyes, mark, middle_of(front), front.normal, aim))
    for letter, name, sheet in panels(layout):
        at = panel_words(setup, layout, setup.scene.panel[sheet.name])
        rows.append(_row(layout, eyes, (letter, name), sheet.centre_m, sheet.normal, at))
    return rows


def marked(layout: Layout, eyes: Floats) -> str:
    """What the mark is under: the eyes of the sitter, or what is where they would be."""
    if layout.body is not None:
        return EYES
    clouds = [
        each.name
        for each in layout.elements
        if np.all((each.centres_m.min(0) <= eyes) & (eyes <= each.centres_m.max(0)))
    ]
    near = [p.name for p in layout.points if np.linalg.norm(p.position_m - eyes) < SAME_M]
    return ", ".join(spoken(name) for name in clouds or near[:1]) or OVER


def middle_of(front: Front) -> Floats:
    """The middle of the cloth (3,) [m], where the scene file puts it.

    A front with a grid is placed half the grid's depth before it (`layout.modifiers`).
    """
    ahead = 0.0 if front.cells is None else 0.5 * front.cells.depth_m
    middle: Floats = front.centre_m - ahead * front.normal
    return middle


def panels(layout: Layout) -> list[tuple[str, str, Sheet]]:
    """Mark, name and sheet of every panel; the leaves of a V-flat count for themselves."""
    found = [sheet for sheet in layout.sheets if sheet.kind == "panel"]
    names = [sheet.name for sheet in found]
    made = []
    for i, sheet in enumerate(found):
        leaf = names[: i + 1].count(sheet.name)
        name = f"{sheet.name}, leaf {leaf}" if names.count(sheet.name) > 1 else sheet.name
        made.append((_letter(i), spoken(name), sheet))
    return made


def _letter(i: int) -> str:
    """a, b ... z, a2, b2 ..."""
    turn, letter = divmod(i, 26)
    return chr(ord("a") + letter) + (str(turn + 1) if turn else "")


def _crossing_m(view: View, eyes: Floats) -> float:
    """Height [m] of the middle of the frame at the depth of the eyes."""
    along = float((view.position_m[2] - eyes[2]) / view.back[2])
    return float(view.position_m[1] - along * view.back[1])


def aim_m(setup: Setup, layout: Layout, front: Front) -> Floats:
    """The place (3,) [m] on the axis of a light that it is aimed at."""
    light = setup.scene.light[front.name]
    aim = light.aim if light.aim is not None else light.around
    known = {"eyes": eyes_of(setup.scene.sitter)}
    known |= {point.name: point.position_m for point in layout.points}
    if layout.body is not None:
        known |= {name: each.position_m for name, each in anchors_of(layout.body).items()}
    at = known.get(aim) if isinstance(aim, str) else np.array(aim)
    reach = AXIS_M if at is None else float((at - front.centre_m) @ front.normal)
    return front.centre_m + max(reach, 0.0) * front.normal


def hung(layout: Layout) -> Sheet | None:
    """The backdrop that hangs before the back wall, if one does."""
    return next((sheet for sheet in layout.sheets if sheet.kind == "backdrop"), None)


def _row(
    layout: Layout,
    eyes: Floats,
    mark: tuple[str, str],
    at: Floats,
    normal: Floats | None,
    aim: str,
) -> Taped:
    tilt = None if normal is None else float(np.degrees(np.arcsin(np.clip(normal[1], -1, 1))))
    turn = None if normal is None else turn_of(normal)
    away = float(np.linalg.norm(at - eyes))
    return Taped(*mark, at, *from_walls(layout, at), float(at[1]), tilt, turn, away, aim)
