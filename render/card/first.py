"""First page of the card: drawings to scale, what the signs mean, tape distances."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from render.card.content import Card
from render.card.drawing import Drawing, draw, extent
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
    heading,
    line_mm,
    new_page,
    put,
    wrapped,
)
from render.card.signs import draw_signs
from render.card.tape import MARK, Taped, room_box, tilt_words

# Usual scales of drawings (ISO 5455 has 5, 10, 20, 50, 100 ...) and those of a scale ruler.
SCALES = (5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 125, 150, 200, 300, 500, 1000)
TOP_MM = 42.0  # upper edge of the plan
SIGNS_MM = 46.0  # column of the signs, and the gutter before it
DIMENSION_MM = 8.0  # for the dimension line at the left
GAP_MM = 14.0  # between plan and elevation
ONE_LINE = 26  # letters of the last column that fit one line for certain
ROW_MM = 4.5  # of the tape table
BAR_M = 1.0
COLUMNS_MM = (0.0, 6.0, 36.0, 73.0, 101.0, 112.0, 129.0, 141.0)
HEADS = ("", "middle of", "across, from", "along, from", "height", "tilt", "to eyes", "faces")


def first_page(card: Card, paper: Paper) -> Figure:
    """Plan, elevation and tape distances."""
    figure, axes = new_page(paper)
    corners = extent(card)
    depth, height, width = (float(corners[1, i] - corners[0, i]) for i in (2, 1, 0))
    table = 20.0 + ROW_MM * sum(2 if len(row.aim) > ONE_LINE else 1 for row in card.tape)
    wide = paper.column_mm - SIGNS_MM - DIMENSION_MM
    high = paper.height_mm - MARGIN_MM - TOP_MM - table - GAP_MM - 12.0
    scale = next(
        (s for s in SCALES if 1e3 * depth / s <= wide and 1e3 * (width + height) / s <= high),
        SCALES[-1],
    )
    per_m = 1e3 / scale
    _title(axes, card, scale, paper)

    left = MARGIN_MM + DIMENSION_MM
    middle = TOP_MM + per_m * width + GAP_MM
    low = middle + per_m * height
    right = left + per_m * depth
    zero_x = left - per_m * float(corners[0, 2])
    plan_zero = (zero_x, TOP_MM + per_m * float(corners[1, 0]))
    plan_labels = Labels((left, TOP_MM, right, middle - GAP_MM))
    side_labels = Labels((left, middle, right, low))
    draw(card, Drawing(axes, plan_labels, PLAN, plan_zero, per_m, "plan"))
    draw(card, Drawing(axes, side_labels, SIDE, (zero_x, low), per_m, "side"))
    put(axes, (left, TOP_MM - 2.2), "PLAN, from above: camera right is up", SMALL_PT, weight="bold")
    put(axes, (left, middle - 2.2), "SIDE, from camera left", SMALL_PT, weight="bold")
    _across(axes, left, right, middle - GAP_MM + 4.5, f"{depth:.2f} m")
    _upright(axes, left - 4.0, TOP_MM, middle - GAP_MM, f"{width:.2f} m")
    _upright(axes, left - 4.0, middle, low, f"{height:.2f} m")
    _bar(axes, left, low + 5.0, per_m)
    signs = right + 7.0
    draw_signs(axes, (signs, TOP_MM), paper.width_mm - MARGIN_MM - signs, _notes(card))
    _tape(axes, card.tape, paper, low + 18.0)
    return figure


def _title(axes: Axes, card: Card, scale: int, paper: Paper) -> None:
    put(axes, (MARGIN_MM, MARGIN_MM + 6.0), card.title, TITLE_PT, weight="bold")
    box = room_box(card.layout)
    room = "No walls. "
    if box is not None:
        x, y, z = box[1] - box[0]
        room = f"Room {x:.2f} m wide, {z:.2f} m deep, {y:.2f} m high. "
    view = card.layout.view
    lens = ""
    if view is not None:
        camera = card.setup.scene.camera
        speed = "" if camera is None else f", f/{camera.f_number:g}, ISO {camera.iso_speed:g}"
        lens = f" Lens {1e3 * view.focal_length_m:g} mm{speed}."
    line = f"{room}Drawn 1:{scale}; all lengths in metres.{lens}"
    put(axes, (MARGIN_MM, MARGIN_MM + 12.5), line, BODY_PT)


def _notes(card: Card) -> tuple[str, ...]:
    notes = ["Print at full size: the bar below the drawings must measure as it says."]
    if room_box(card.layout) is None:
        notes.append("No walls in this set: distances are from the mark under the eyes.")
    return tuple(notes)


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
    for k in range(10):
        ends = [x + 0.1 * k * per_m, x + 0.1 * (k + 1) * per_m]
        axes.plot(ends, [y, y], color=INK if k % 2 == 0 else GREY, lw=3 if k % 2 == 0 else 0.8,
                  solid_capstyle="butt")  # fmt: skip
    words = f"{BAR_M:g} m, {per_m:.1f} mm on this sheet"
    put(axes, (x + per_m + 2.0, y), words, SMALL_PT, middle=True)


def _tape(axes: Axes, rows: tuple[Taped, ...], paper: Paper, y: float) -> None:
    """Tape distances of everything, a row each."""
    title = "TAPE DISTANCES from the point on the floor under each middle"
    y = heading(axes, (MARGIN_MM, y), title, paper.column_mm)
    places = [MARGIN_MM + column for column in COLUMNS_MM]
    for x, head in zip(places, HEADS, strict=True):
        put(axes, (x, y), head, SMALL_PT, colour=GREY)
    for row in rows:
        y += ROW_MM
        cells = (
            row.mark,
            row.name,
            f"{row.across[1]:.2f}  {row.across[0]}",
            f"{row.along[1]:.2f}  {row.along[0]}",
            f"{row.height_m:.2f}",
            tilt_words(row.tilt_deg),
            "" if row.mark == MARK else f"{row.eyes_m:.2f}",
        )
        for i, (x, cell) in enumerate(zip(places[:-1], cells, strict=True)):
            put(axes, (x, y), cell, BODY_PT, weight="bold" if i == 0 else "normal")
        lines = wrapped(row.aim, paper.width_mm - MARGIN_MM - places[-1], SMALL_PT)
        for k, line in enumerate(lines):
            put(axes, (places[-1], y + k * line_mm(SMALL_PT)), line, SMALL_PT)
        y += (len(lines) - 1) * line_mm(SMALL_PT)
