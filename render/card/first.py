"""First page of the card: drawings to scale, what the signs mean, tape distances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from render.card.canvas import Drawing, Floats
from render.card.content import Card
from render.card.drawing import draw
from render.card.flow import Flow, set_block
from render.card.labels import Labels
from render.card.outlines import PLAN, SIDE
from render.card.page import (
    BODY_PT,
    GREY,
    INK,
    MARGIN_MM,
    SMALL_PT,
    TITLE_PT,
    Paper,
    line_mm,
    new_page,
    put,
    wrapped,
)
from render.card.rooms import extent
from render.card.signs import draw_signs
from render.card.tables import tape_block
from render.card.words import room_box

# Usual scales of drawings (ISO 5455 has 5, 10, 20, 50, 100 ...) and those of a scale ruler.
SCALES = (5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 125, 150, 200, 300, 500, 1000)
UNDER_TITLE_MM = 18.0  # from the last line of the title to the plan
SIGNS_MM = 46.0  # column of the signs, and the gutter before it
DIMENSION_MM = 8.0  # for the dimension line at the left
GAP_MM = 14.0  # between plan and elevation
BAR_MM = 18.0  # from the elevation to the table, the bar between them
SMALLER = 1.3  # a table that makes the drawings smaller than this goes on the next page
BAR_M = 1.0
SIGNS_AIR_MM = 6.0  # from the signs to a table that would reach into them
CUT_M = 0.005  # less is left out by rounding only


@dataclass(frozen=True, slots=True)
class Sheet:
    """How the first page is divided [mm]."""

    scale: int  # 40 for 1:40
    top_mm: float  # upper edge of the plan
    table: bool  # whether the tape distances are on it
    corners_m: Floats


def divided(card: Card, paper: Paper) -> Sheet:
    """The largest usual scale at which plan, elevation and table fit the page."""
    corners = extent(card)
    depth, height, width = (float(corners[1, i] - corners[0, i]) for i in (2, 1, 0))
    lines = wrapped(card.title, paper.column_mm, TITLE_PT, "bold")
    top = MARGIN_MM + 6.0 + (len(lines) - 1) * line_mm(TITLE_PT) + UNDER_TITLE_MM
    wide = paper.column_mm - SIGNS_MM - DIMENSION_MM
    high = paper.height_mm - MARGIN_MM - top - GAP_MM - BAR_MM

    def largest(free_mm: float) -> int:
        fits = (s for s in SCALES if 1e3 * max(depth / wide, (width + height) / free_mm) <= s)
        return next(fits, SCALES[-1])

    left = high - table_mm(card, paper)
    alone = largest(high)
    scale = largest(left) if left > 0 else SCALES[-1]
    kept = scale <= SMALLER * alone
    scale = scale if kept else alone
    return Sheet(scale, top, kept, corners)


def table_mm(card: Card, paper: Paper) -> float:
    """Height of the table of tape distances."""
    scratch = Flow("", paper, [new_page(paper)[0]], 0.0)
    set_block(scratch, tape_block(card.tape))
    return scratch.y if len(scratch.pages) == 1 else paper.height_mm


def first_page(card: Card, paper: Paper) -> Figure:
    """Plan, elevation and tape distances."""
    figure, axes = new_page(paper)
    sheet = divided(card, paper)
    corners, per_m, top = sheet.corners_m, 1e3 / sheet.scale, sheet.top_mm
    depth, height, width = (float(corners[1, i] - corners[0, i]) for i in (2, 1, 0))
    _title(axes, card, sheet.scale, paper)

    left = MARGIN_MM + DIMENSION_MM
    middle = top + per_m * width + GAP_MM
    low = middle + per_m * height
    right = left + per_m * depth
    zero_x = left - per_m * float(corners[0, 2])
    plan_zero = (zero_x, top + per_m * float(corners[1, 0]))
    plan_labels = Labels((left, top, right, middle - GAP_MM))
    side_labels = Labels((left, middle, right, low))
    draw(card, Drawing(axes, plan_labels, PLAN, plan_zero, per_m, "plan"))
    draw(card, Drawing(axes, side_labels, SIDE, (zero_x, low), per_m, "side"))
    put(axes, (left, top - 2.2), "PLAN, from above: camera right is up", SMALL_PT, weight="bold")
    put(axes, (left, middle - 2.2), "SIDE, from camera left", SMALL_PT, weight="bold")
    box = room_box(card.layout)
    whole = corners if box is None else box
    _across(axes, left, right, middle - GAP_MM + 4.5, _length(depth, float(np.ptp(whole[:, 2]))))
    _upright(axes, left - 4.0, top, middle - GAP_MM, _length(width, float(np.ptp(whole[:, 0]))))
    _upright(axes, left - 4.0, middle, low, f"{height:.2f} m")
    _bar(axes, left, low + 5.0, per_m)
    signs = paper.width_mm - MARGIN_MM - SIGNS_MM + 7.0
    below = max(low + BAR_MM, draw_signs(axes, (signs, top), SIGNS_MM - 7.0, card) + SIGNS_AIR_MM)
    if sheet.table:
        set_block(Flow(card.title, paper, [figure], below), tape_block(card.tape))
    return figure


def _length(drawn_m: float, whole_m: float) -> str:
    """A length of the room, and how much of it is drawn where it is cut."""
    cut = whole_m - drawn_m > CUT_M
    return f"{drawn_m:.2f} of {whole_m:.2f} m" if cut else f"{whole_m:.2f} m"


def _title(axes: Axes, card: Card, scale: int, paper: Paper) -> None:
    y = MARGIN_MM + 6.0
    for line in wrapped(card.title, paper.column_mm, TITLE_PT, "bold"):
        put(axes, (MARGIN_MM, y), line, TITLE_PT, weight="bold")
        y += line_mm(TITLE_PT)
    box = room_box(card.layout)
    room = "No walls. "
    if box is not None:
        x, y_m, z = box[1] - box[0]
        room = f"Room {x:.2f} m wide, {z:.2f} m deep, {y_m:.2f} m high. "
    view = card.layout.view
    lens = ""
    if view is not None:
        camera = card.setup.scene.camera
        speed = "" if camera is None else f", f/{camera.f_number:g}, ISO {camera.iso_speed:g}"
        lens = f" Lens {1e3 * view.focal_length_m:g} mm{speed}."
    words = f"{room}Drawn 1:{scale}; all lengths in metres.{lens}"
    put(axes, (MARGIN_MM, y - line_mm(TITLE_PT) + 6.5), words, BODY_PT)


def _across(axes: Axes, left: float, right: float, y: float, words: str) -> None:
    """A level dimension line with its length under it."""
    axes.plot([left, right], [y, y], color=INK, lw=0.4)
    for x in (left, right):
        axes.plot([x, x], [y - 1.2, y + 1.2], color=INK, lw=0.6)
    _on_line(axes, (0.5 * (left + right), y), words)


def _upright(axes: Axes, x: float, top: float, low: float, words: str) -> None:
    axes.plot([x, x], [top, low], color=INK, lw=0.4)
    for y in (top, low):
        axes.plot([x - 1.2, x + 1.2], [y, y], color=INK, lw=0.6)
    _on_line(axes, (x, 0.5 * (top + low)), words, 90)


def _on_line(axes: Axes, at: tuple[float, float], words: str, turn: float = 0.0) -> None:
    clear = {"fc": "white", "ec": "none", "pad": 1.2}
    axes.text(
        *at, words, fontsize=BODY_PT, ha="center", va="center", rotation=turn, bbox=clear, zorder=9
    )


def _bar(axes: Axes, x: float, y: float, per_m: float) -> None:
    """A metre in ten parts, with the length it must have on paper."""
    axes.plot([x, x + per_m], [y, y], color=GREY, lw=0.8, solid_capstyle="butt", gid="bar")
    for k in range(0, 10, 2):
        ends = [x + 0.1 * k * per_m, x + 0.1 * (k + 1) * per_m]
        axes.plot(ends, [y, y], color=INK, lw=3.0, solid_capstyle="butt")
    words = f"{BAR_M:g} m, {per_m:.1f} mm on this sheet"
    put(axes, (x + per_m + 2.0, y), words, SMALL_PT, middle=True)
