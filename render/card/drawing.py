"""Plan from above and side elevation of the set, to scale, one exactly under the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon
from numpy.typing import NDArray

from render.card.content import Card
from render.card.labels import Labels, label
from render.card.outlines import PLAN, SIDE, camera, outline, sitter, view_edges
from render.card.page import GREY, INK, SMALL_PT, line_mm, width_mm
from render.card.tape import (
    ACROSS,
    ALONG,
    BACKDROP,
    CAMERA,
    MARK,
    aim_m,
    hung,
    middle_of,
    panels,
    room_box,
)
from render.emission import cloth
from render.layout import Sheet
from render.layout.people import eyes_of
from render.plan.checks.rig import rigs

Floats = NDArray[np.float64]

BEND_STEPS = 12
DARK = 0.2  # a panel that gives back less is hatched
WALL_AIR_MM = 2.2  # from a wall to the middle of its name
AROUND_M = 0.3  # left free about a set without walls
FRONT_PT, WALL_PT, EDGE_PT, FINE_PT = 2.0, 1.4, 0.7, 0.4


@dataclass(frozen=True, slots=True)
class Drawing:
    """One view of the set on the page."""

    axes: Axes
    labels: Labels
    seen: tuple[int, int]  # room axes that run right and up on the paper
    zero_mm: tuple[float, float]  # page position of the room's origin
    mm_per_m: float
    name: str  # begins the names of what is drawn: "plan" or "side"

    def page(self, points: Floats) -> Floats:
        """Page positions (n, 2) [mm] of flat room points (n, 2) [m]."""
        flat = np.asarray(points, float) * [self.mm_per_m, -self.mm_per_m]
        placed: Floats = flat + np.array(self.zero_mm)
        return placed

    def flat(self, point: Floats) -> Floats:
        """Page position (2,) [mm] of a room point (3,) [m]."""
        placed: Floats = self.page(np.asarray(point)[None, list(self.seen)])[0]
        return placed


def extent(card: Card) -> Floats:
    """Corners (2, 3) [m] of what is drawn: the room, or all that stands in the void."""
    box = room_box(card.layout)
    if box is not None:
        return box
    places = [row.middle_m for row in card.tape]
    places += [rig.surface_m for rig in rigs(card.setup, card.layout)]
    places += [sheet.corners_m for sheet in card.layout.sheets]
    every = np.concatenate([np.atleast_2d(each) for each in places])
    low, high = every.min(0) - AROUND_M, every.max(0) + AROUND_M
    low[1] = 0.0
    return np.stack([low, high])


def draw(card: Card, drawing: Drawing) -> None:
    """Everything of one view, the quiet things first."""
    corners = extent(card)
    walled = room_box(card.layout) is not None
    _ring(drawing, _frame(corners, drawing.seen), lw=WALL_PT if walled else 0.0, fill=False)
    if walled:
        _name_walls(drawing, corners)
    _backdrop(card, drawing, corners)
    _camera(card, drawing, corners)
    for part in sitter(card.layout, drawing.seen):
        _ring(drawing, part, fc="#e6e6e6", lw=EDGE_PT, zorder=3)
    eyes = drawing.flat(eyes_of(card.setup.scene.sitter))
    drawing.axes.plot(*eyes, "+", color=INK, ms=6, mew=0.9, zorder=6, gid=f"{drawing.name}.eyes")
    _stands(card, drawing)
    for mark, name, sheet in panels(card.layout):
        _panel(drawing, mark, name, sheet)
    for i in range(len(card.layout.fronts)):
        _front(card, drawing, i)
    for row in card.tape:
        height = f"  {row.height_m:.2f}" if drawing.seen == SIDE else ""
        if row.mark == BACKDROP or (row.mark == MARK and drawing.seen == PLAN):
            continue
        mark = "" if row.mark in (MARK, CAMERA) else row.mark
        name = {MARK: "eyes", CAMERA: "camera"}.get(row.mark, row.name)
        label(drawing.axes, drawing.labels, drawing.flat(row.middle_m), mark, name + height)


def _name_walls(drawing: Drawing, corners: Floats) -> None:
    """The walls that distances are taped from, named along their inner sides."""
    left, low, right, top = drawing.page(_frame(corners, drawing.seen))[[0, 2]].ravel()
    names = [(ALONG[1], left + WALL_AIR_MM, 90), (ALONG[2], right - WALL_AIR_MM, 90)]
    flat = [(ACROSS[2], top + WALL_AIR_MM), (ACROSS[1], low - WALL_AIR_MM)]
    if drawing.seen == SIDE:
        flat = [("ceiling", top + WALL_AIR_MM), ("floor", low - WALL_AIR_MM)]
    for name, x, turn in names:
        wide, high = line_mm(SMALL_PT), width_mm(name, SMALL_PT)
        _named(drawing, name, (x, 0.5 * (top + low)), (wide, high), turn)
    for name, y in flat:
        wide, high = width_mm(name, SMALL_PT), line_mm(SMALL_PT)
        _named(drawing, name, (right - 0.5 * wide - 2 * WALL_AIR_MM, y), (wide, high), 0)


def _named(
    drawing: Drawing, name: str, at: tuple[float, float], size: tuple[float, float], turn: float
) -> None:
    """A wall's name, its middle at a place of the page [mm]; labels keep off it."""
    drawing.axes.text(
        *at, name, fontsize=SMALL_PT, color=GREY, ha="center", va="center", rotation=turn, zorder=3
    )
    x, y, half_w, half_h = *at, 0.5 * size[0], 0.5 * size[1]
    drawing.labels.boxes.append((x - half_w, y - half_h, x + half_w, y + half_h))


def _ring(drawing: Drawing, points: Floats, *, zorder: float = 2, **style: object) -> None:
    """A closed outline (n, 2) [m]."""
    on_page = drawing.page(points)
    style = {"fc": "none", "ec": INK} | style
    drawing.axes.add_patch(Polygon(on_page, closed=True, zorder=zorder, **style))
    drawing.labels.avoid(on_page, closed=True)


def _line(drawing: Drawing, points: Floats, zorder: float = 2, **style: object) -> None:
    """An open line (n, 2) [m]."""
    on_page = drawing.page(points)
    drawing.axes.plot(on_page[:, 0], on_page[:, 1], zorder=zorder, **style)  # type: ignore[arg-type]
    drawing.labels.avoid(on_page)


def _frame(corners: Floats, seen: tuple[int, int]) -> Floats:
    (a, b), (c, d) = corners[:, seen[0]], corners[:, seen[1]]
    return np.array([[a, c], [b, c], [b, d], [a, d]])


def _backdrop(card: Card, drawing: Drawing, corners: Floats) -> None:
    """The sheet edge on, its sweep, and its width on the floor."""
    sheet = hung(card.layout)
    if sheet is None:
        return
    ends = sheet.corners_m[:, list(drawing.seen)]
    line = np.stack([ends.min(0), ends.max(0)])
    if sheet.bend is not None and drawing.seen == SIDE:
        turn = np.linspace(0, 0.5 * np.pi, BEND_STEPS)
        foot, radius = line[0], sheet.bend.radius_m
        bend = foot + radius * np.stack([1 - np.cos(turn), -np.sin(turn)], -1)
        flat = bend[-1] + [sheet.bend.floor_m, 0.0]
        line = np.concatenate([line[::-1], bend, [flat]])
    elif sheet.bend is not None:
        front = line[1, 0] + sheet.bend.radius_m + sheet.bend.floor_m
        edge = np.array([line[0], [front, line[0, 1]], [front, line[1, 1]], line[1]])
        _line(drawing, edge, color=GREY, lw=FINE_PT)
    _line(drawing, line, color=INK, lw=2.6, solid_capstyle="butt")
    label(drawing.axes, drawing.labels, drawing.page(line[:1])[0], "", "backdrop")


def _camera(card: Card, drawing: Drawing, corners: Floats) -> None:
    view = card.layout.view
    if view is None:
        return
    sheet = hung(card.layout)
    until = float(corners[0, 2]) if sheet is None else float(sheet.centre_m[2])
    for edge in view_edges(view, drawing.seen, until):
        _line(drawing, edge, color=GREY, lw=FINE_PT, dashes=(8, 3))
    for part in camera(view, drawing.seen):
        _ring(drawing, part, fc="white", lw=EDGE_PT, zorder=4)


def _stands(card: Card, drawing: Drawing) -> None:
    """Columns and booms from the side; legs and booms from above."""
    for rig in rigs(card.setup, card.layout):
        if rig.kind == "none":
            continue
        if rig.kind == "boom":
            ends = np.stack([rig.mount_m, rig.tail_m])[:, list(drawing.seen)]
            _line(drawing, ends, color=GREY, lw=1.2)
        if drawing.seen == SIDE:
            _line(drawing, rig.column_m[:, list(SIDE)], color=GREY, lw=EDGE_PT)
            continue
        foot = drawing.flat(rig.foot_m)
        radius = rig.leg_radius_m * drawing.mm_per_m
        style = {"fc": "none", "ec": GREY, "lw": FINE_PT, "ls": (0, (1, 3))}
        drawing.axes.add_patch(Circle((foot[0], foot[1]), radius, zorder=1, **style))


def _panel(drawing: Drawing, mark: str, name: str, sheet: Sheet) -> None:
    """A panel's edge, hatched where its front is dark; a tick on the side of its front."""
    dark = max(sheet.reflectance) < DARK
    ring = outline(sheet.corners_m, drawing.seen)
    _ring(
        drawing,
        ring,
        hatch="//////" if dark else None,
        hatch_linewidth=0.35,
        lw=1.1,
        zorder=5,
        gid=f"{drawing.name}.panel.{mark}",
    )
    if dark:
        middle = ring.mean(0)
        for share in np.arange(0.1, 1.0, 0.1):
            drawing.labels.avoid(drawing.page(middle + share * (ring - middle)), closed=True)
    ahead = np.stack([sheet.centre_m, sheet.centre_m + 0.12 * sheet.normal])
    _line(drawing, ahead[:, list(drawing.seen)], zorder=5, color=INK, lw=EDGE_PT)


def _front(card: Card, drawing: Drawing, i: int) -> None:
    """Housing and head, the shining front, the axis to the aim, the middle of the front."""
    front = card.layout.fronts[i]
    rig = rigs(card.setup, card.layout)[i]
    _ring(drawing, outline(rig.surface_m, drawing.seen), fc="#9a9a9a", lw=EDGE_PT, zorder=4)
    lit = outline(cloth(front)[0], drawing.seen)
    # From above one looks along -y, from camera left along +x; a front seen from behind stays grey.
    towards = front.normal[1] if drawing.seen == PLAN else -front.normal[0]
    fill = "white" if towards > 0 else "none"
    name = f"{drawing.name}.front.{front.name}"
    _ring(drawing, lit, fc=fill, lw=FRONT_PT, zorder=5, gid=name)
    axis = np.stack([middle_of(front), aim_m(card.setup, card.layout, front)])[
        :, list(drawing.seen)
    ]
    _line(drawing, axis, zorder=5, color=INK, lw=EDGE_PT, dashes=(1, 2))
    ends = drawing.page(axis)
    if np.linalg.norm(ends[1] - ends[0]) > 2:
        arrow = {"arrowstyle": "-|>", "lw": EDGE_PT, "color": INK, "shrinkA": 0, "shrinkB": 0}
        back = ends[1] + (ends[0] - ends[1]) / np.linalg.norm(ends[1] - ends[0]) * 2
        drawing.axes.annotate("", tuple(ends[1]), tuple(back), arrowprops=arrow, zorder=5)
    at = drawing.flat(middle_of(front))
    drawing.axes.plot(*at, ".", color=INK, ms=4, zorder=6, gid=f"{drawing.name}.light.{front.name}")
