"""Stands that the scene does not state: of panels, of the backdrop, and the camera's tripod."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.layout.placed import Sheet
from render.layout.walls import BACK_WALL
from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.fit import box_of
from render.plan.checks.rig import rigs
from render.plan.checks.stands import COLUMN_RADIUS_M, bar_in_frame, sitter_gap, wall_gap

Floats = NDArray[np.float64]

ON_FLOOR_M = 0.10  # a panel that comes so near to the floor stands on it
BEHIND_M = 0.03  # a panel's column stands behind it, with its clamp; from memory
BESIDE_M = 0.10  # a backdrop's bar reaches so far past the paper at either end; from memory
TRIPOD_BACK_M = 0.10  # the tripod's head is under the camera, behind the lens; from memory
# From a column to the end of a leg: light stands and tripods stand on 0.5 m; from memory.
LEG_M, TRIPOD_LEG_M = 0.50, 0.50
LEVEL = np.array([1.0, 0.0, 1.0])
NO_STAND = {
    "panel": "let somebody hold it, or an arm from a stand beside",
    "backdrop": "hang it from wall or ceiling",
}


@dataclass(frozen=True, slots=True)
class Prop:
    """A column that something needs if a stand holds it."""

    about: str  # key in the scene file
    what: str  # "Stand of panel.fill", as a sentence begins
    foot_m: Floats  # (3,)
    height_m: float
    cure: str  # what does without it

    @property
    def top_m(self) -> Floats:
        """(3,) upper end."""
        return self.foot_m + [0.0, self.height_m, 0.0]


def props(context: Context) -> list[Prop]:
    """Stands of panels that do not stand on the floor, then the two of the backdrop."""
    found, sheets = [], context.layout.sheets
    panels = [sheet for sheet in sheets if sheet.kind == "panel"]
    for name in dict.fromkeys(sheet.name for sheet in panels):
        prop = _of_panel(name, [sheet for sheet in panels if sheet.name == name])
        if prop is not None:
            found.append(prop)
    for sheet in sheets:
        if sheet.kind == "backdrop" and sheet.name != BACK_WALL:
            found += _of_backdrop(sheet)
    return found


def _of_panel(name: str, leaves: list[Sheet]) -> Prop | None:
    """Upright under the middle, behind the panel; None where it stands on the floor."""
    corners = np.concatenate([leaf.corners_m for leaf in leaves])
    if corners[:, 1].min() < ON_FLOOR_M:
        return None
    middle = corners.mean(axis=0)
    away = -np.mean([leaf.normal for leaf in leaves], axis=0) * LEVEL
    if np.linalg.norm(away) > 1e-6:
        middle = middle + BEHIND_M * unit(away)
    cure, about = NO_STAND["panel"], f"panel.{name}"
    return Prop(about, f"Stand of {about}", middle * LEVEL, float(middle[1]), cure)


def _of_backdrop(sheet: Sheet) -> list[Prop]:
    """One past either side, as high as the paper hangs."""
    top = sheet.centre_m + 0.5 * sheet.height_m * sheet.up
    ends = {"left": -1.0, "right": 1.0}
    out = 0.5 * sheet.width_m + BESIDE_M
    return [
        Prop(
            "backdrop",
            f"Stand of the backdrop at camera {side}",
            (top + way * out * sheet.right) * LEVEL,
            float(top[1]),
            NO_STAND["backdrop"],
        )
        for side, way in ends.items()
    ]


def no_props(context: Context) -> str:
    """Why there is nothing of the kind."""
    some = context.layout.view is not None or props(context)
    return "" if some else "no panel, backdrop or camera needs a stand"


def check_props(context: Context) -> list[Finding]:
    """Room for each of these stands: walls, sitter, picture; and for the tripod."""
    found: list[Finding] = []
    for prop in props(context):
        if context.setup.scene.room is not None:
            found.append(_walls(prop, box_of(context.setup)))
        if context.layout.body is not None and prop.about != "backdrop":
            found.append(_sitter(context, prop))
        if context.layout.view is not None:
            told = (prop.what, prop.cure)
            ends = (prop.foot_m, prop.top_m)
            found.append(bar_in_frame(context, prop.about, told, *ends, seen_is="look"))
    if context.layout.view is not None:
        found.append(_tripod(context))
    # Of the backdrop's two stands the worse one is told.
    worst: dict[tuple[str, str], Finding] = {}
    for each in found:
        key = (each.check, each.about)
        if key not in worst or each.value < worst[key].value:
            worst[key] = each
    return list(worst.values())


def _walls(prop: Prop, box: Floats) -> Finding:
    """Turned with two legs to a wall, a tripod needs half its leg radius."""
    gap, needed = wall_gap(prop.foot_m, box), 0.5 * LEG_M
    words = f"{prop.what} is {100 * gap:.0f} cm from the nearest wall."
    if gap < 0:
        words = f"{prop.what} would be {-100 * gap:.0f} cm behind a wall; {prop.cure}."
    elif gap < needed:
        words = (
            f"{prop.what} is {100 * gap:.0f} cm from the nearest wall; legs of {100 * LEG_M:.0f} "
            f"cm need {100 * needed:.0f} cm there; {prop.cure}."
        )
    verdict: Verdict = "look" if gap < needed else "fine"
    return Finding("stand", prop.about, verdict, 100 * gap, "cm", 100 * needed, words)


def _sitter(context: Context, prop: Prop) -> Finding:
    gap = sitter_gap(context, prop.foot_m, prop.height_m)
    words = f"{prop.what} is {100 * gap:.0f} cm from sitter and stool."
    if gap < 0:
        words = (
            f"{prop.what}, straight under its middle, would be {-100 * gap:.0f} cm inside sitter "
            f"or stool; {prop.cure}."
        )
    verdict: Verdict = "look" if gap < 0 else "fine"
    return Finding("stand by sitter", prop.about, verdict, 100 * gap, "cm", 0.0, words)


def _tripod(context: Context) -> Finding:
    """The camera's legs against walls and the columns of everything else."""
    lens = context.layout.view
    assert lens is not None
    foot = (lens.position_m + TRIPOD_BACK_M * unit(lens.back * LEVEL)) * LEVEL
    gaps = {
        f"the column of {rig.about}": _plan(rig.foot_m, foot)
        for rig in rigs(context.setup, context.layout)
        if rig.kind != "none"
    }
    gaps |= {f"the stand of {prop.about}": _plan(prop.foot_m, foot) for prop in props(context)}
    if context.setup.scene.room is not None:
        gaps["the nearest wall"] = wall_gap(foot, box_of(context.setup))
    if not gaps:
        words = "Nothing stands near the camera's tripod."
        return Finding("stand", "camera", "fine", 0.0, "cm", None, words)
    nearest = min(gaps, key=lambda name: gaps[name])
    gap, short = gaps[nearest], gaps[nearest] < TRIPOD_LEG_M
    words = f"The middle of the camera's tripod is {100 * gap:.0f} cm from {nearest}"
    words += f"; its legs spread {100 * TRIPOD_LEG_M:.0f} cm: turn one aside." if short else "."
    verdict: Verdict = "look" if short else "fine"
    return Finding("stand", "camera", verdict, 100 * gap, "cm", 100 * TRIPOD_LEG_M, words)


def _plan(place: Floats, other: Floats) -> float:
    """Distance of a column from a place, seen from above [m]."""
    return float(np.linalg.norm((place - other)[[0, 2]])) - COLUMN_RADIUS_M
