"""Plan from above and side elevation of the set, to scale, one exactly under the other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.card.canvas import EDGE_PT, FINE_PT, FRONT_PT, Drawing, line, ring
from render.card.content import Card
from render.card.labels import label
from render.card.outlines import PLAN, SIDE, camera, dark, outline, sitter, view_edges
from render.card.page import GREY, INK
from render.card.rooms import extent, walls
from render.card.standing import stands, tape_lines
from render.card.tape import BACKDROP, CAMERA, EYES, MARK, Taped, aim_m, hung, middle_of, panels
from render.card.words import room_box, turn_words
from render.emission import cloth
from render.layout import Sheet
from render.layout.people import eyes_of
from render.plan.checks.rig import rigs

Floats = NDArray[np.float64]

NAMED, NAME_LETTERS = 5, 18  # so many are named on the drawings, in so many letters
BEND_STEPS = 12


def draw(card: Card, drawing: Drawing) -> None:
    """Everything of one view, the quiet things first."""
    corners = extent(card)
    walls(card, drawing, corners)
    _backdrop(card, drawing, corners)
    _camera(card, drawing, corners)
    for part in sitter(card.layout, drawing.seen):
        ring(drawing, part, fc="#e6e6e6", lw=EDGE_PT, zorder=3)
    eyes = drawing.flat(eyes_of(card.setup.scene.sitter))
    drawing.axes.plot(*eyes, "+", color=INK, ms=6, mew=0.9, zorder=6, gid=f"{drawing.name}.eyes")
    stands(card, drawing)
    for mark, name, sheet in panels(card.layout):
        _panel(drawing, mark, name, sheet)
    _elements(card, drawing)
    for i in range(len(card.layout.fronts)):
        _front(card, drawing, i)
    if room_box(card.layout) is not None and drawing.seen == PLAN:
        tape_lines(card, drawing, corners)
    spare = _spare(card)
    for row in card.tape:
        if row.mark == BACKDROP or (row.mark == MARK and drawing.seen == PLAN):
            continue
        mark = "" if row.mark in (MARK, CAMERA) else row.mark
        above = "eyes" if row.name == EYES else "over +"
        name = {MARK: above, CAMERA: "camera"}.get(row.mark, "" if spare else row.name)
        name = f"{name}  {_beside(row, drawing, spare)}".strip()
        label(drawing.axes, drawing.labels, drawing.flat(row.middle_m), mark, name)


def _spare(card: Card) -> bool:
    """Whether lights and panels are too many, or their names too long, to be named as well."""
    rows = [row for row in card.tape if row.mark not in (MARK, CAMERA, BACKDROP)]
    return len(rows) > NAMED or any(len(row.name) > NAME_LETTERS for row in rows)


def _beside(row: Taped, drawing: Drawing, spare: bool) -> str:
    """What stands behind a name: from the side the height, of panels from above the turn."""
    if drawing.seen == SIDE:
        return f"{row.height_m:.2f}"
    panel = row.mark[0].islower() and not spare
    return turn_words(row.turn_deg) if panel else ""


def _backdrop(card: Card, drawing: Drawing, corners: Floats) -> None:
    """The sheet edge on, its sweep, and its width on the floor."""
    sheet = hung(card.layout)
    if sheet is None:
        return
    ends = sheet.corners_m[:, list(drawing.seen)]
    sheet_line = np.stack([ends.min(0), ends.max(0)])
    if sheet.bend is not None and drawing.seen == SIDE:
        turn = np.linspace(0, 0.5 * np.pi, BEND_STEPS)
        foot, radius = sheet_line[0], sheet.bend.radius_m
        bend = foot + radius * np.stack([1 - np.cos(turn), -np.sin(turn)], -1)
        flat = bend[-1] + [sheet.bend.floor_m, 0.0]
        sheet_line = np.concatenate([sheet_line[::-1], bend, [flat]])
    elif sheet.bend is not None:
        low, high = sheet_line
        front = high[0] + sheet.bend.radius_m + sheet.bend.floor_m
        edge = np.array([low, [front, low[1]], [front, high[1]], high])
        line(drawing, edge, color=GREY, lw=FINE_PT)
    line(drawing, sheet_line, color=INK, lw=2.6, solid_capstyle="butt")
    label(drawing.axes, drawing.labels, drawing.page(sheet_line[:2]), "", "backdrop")


def _camera(card: Card, drawing: Drawing, corners: Floats) -> None:
    view = card.layout.view
    if view is None:
        return
    sheet = hung(card.layout)
    until = float(corners[0, 2]) if sheet is None else float(sheet.centre_m[2])
    for edge in view_edges(view, drawing.seen, until):
        line(drawing, edge, color=GREY, lw=FINE_PT, dashes=(8, 3))
    for part in camera(view, drawing.seen):
        ring(drawing, part, fc="white", lw=EDGE_PT, zorder=4)


def _elements(card: Card, drawing: Drawing) -> None:
    """All that is in the air, in one dotted outline, with its names."""
    if not card.layout.elements:
        return
    places = np.concatenate([each.centres_m for each in card.layout.elements])
    edge = outline(places, drawing.seen)
    ring(drawing, edge, ls=":", lw=EDGE_PT, zorder=5, gid=f"{drawing.name}.elements")
    names = ", ".join(each.name for each in card.layout.elements)
    label(drawing.axes, drawing.labels, drawing.page(edge), "", names)


def _panel(drawing: Drawing, mark: str, name: str, sheet: Sheet) -> None:
    """A panel's edge, hatched where its front is dark; a tick on the side of its front."""
    black = dark(sheet)
    edge = outline(sheet.corners_m, drawing.seen)
    ring(
        drawing,
        edge,
        hatch="//////" if black else None,
        hatch_linewidth=0.35,
        lw=1.1,
        zorder=5,
        gid=f"{drawing.name}.panel.{mark}",
    )
    if black:
        middle = edge.mean(0)
        for share in np.arange(0.1, 1.0, 0.1):
            drawing.labels.avoid(drawing.page(middle + share * (edge - middle)), closed=True)
    ahead = np.stack([sheet.centre_m, sheet.centre_m + 0.12 * sheet.normal])
    line(drawing, ahead[:, list(drawing.seen)], zorder=5, color=INK, lw=EDGE_PT)


def _front(card: Card, drawing: Drawing, i: int) -> None:
    """Housing and head, the shining front, the axis to the aim, the middle of the front."""
    front = card.layout.fronts[i]
    rig = rigs(card.setup, card.layout)[i]
    ring(drawing, outline(rig.surface_m, drawing.seen), fc="#9a9a9a", lw=EDGE_PT, zorder=4)
    lit = outline(cloth(front)[0], drawing.seen)
    # From above one looks along -y, from camera left along +x; a front seen from behind stays grey.
    towards = front.normal[1] if drawing.seen == PLAN else -front.normal[0]
    fill = "white" if towards > 0 else "none"
    name = f"{drawing.name}.front.{front.name}"
    ring(drawing, lit, fc=fill, lw=FRONT_PT, zorder=5, gid=name)
    axis = np.stack([middle_of(front), aim_m(card.setup, card.layout, front)])[
        :, list(drawing.seen)
    ]
    line(drawing, axis, zorder=5, color=INK, lw=EDGE_PT, dashes=(1, 2))
    ends = drawing.page(axis)
    if np.linalg.norm(ends[1] - ends[0]) > 2:
        arrow = {"arrowstyle": "-|>", "lw": EDGE_PT, "color": INK, "shrinkA": 0, "shrinkB": 0}
        back = ends[1] + (ends[0] - ends[1]) / np.linalg.norm(ends[1] - ends[0]) * 2
        drawing.axes.annotate("", tuple(ends[1]), tuple(back), arrowprops=arrow, zorder=5)
    at = drawing.flat(middle_of(front))
    drawing.axes.plot(*at, ".", color=INK, ms=4, zorder=6, gid=f"{drawing.name}.light.{front.name}")
