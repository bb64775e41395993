"""The table of tape distances, row by row."""

from __future__ import annotations

from functools import partial

from matplotlib.axes import Axes

from render.card.flow import Block
from render.card.page import BODY_PT, GREY, SMALL_PT, line_mm, paragraph, put, width_mm, wrapped
from render.card.tape import EYES, MARK, Taped
from render.card.words import tilt_words, turn_words

TITLE = "TAPE DISTANCES from the point on the floor under each middle"
COLUMNS_MM = (0.0, 6.0, 32.0, 63.5, 89.3, 98.5, 114.5, 131.5, 142.5)
HEADS = ("", "middle of", "across, from", "along, from", "height", "tilt", "turn", "to {}",
         "faces")  # fmt: skip
NOTE = (
    "Tilt and turn are those of the front. Turn is seen from above: straight looks along the "
    "camera axis to the camera wall, left and right are the camera's."
)
AFTER_MM = 1.0  # between a number and its wall


def tape_block(rows: tuple[Taped, ...]) -> Block:
    """Tape distances of everything, a row each."""
    heads = partial(_heads, mark="eyes" if rows[0].name == EYES else MARK)
    return Block(TITLE, (*(partial(_row, row=row) for row in rows), _note), heads)


def _heads(axes: Axes, x: float, y: float, width: float, mark: str) -> float:
    for column, head in zip(COLUMNS_MM, HEADS, strict=True):
        put(axes, (x + column, y), head.format(mark), SMALL_PT, colour=GREY)
    return y + line_mm(BODY_PT) + 0.4


def _row(axes: Axes, x: float, y: float, width: float, row: Taped) -> float:
    """One row; returns the base line of the next."""
    places = [x + column for column in COLUMNS_MM]
    put(axes, (places[0], y), row.mark, BODY_PT, weight="bold")
    for place, (wall, metres) in zip(places[2:4], (row.across, row.along), strict=True):
        words = f"{metres:.2f}"
        put(axes, (place, y), words)
        after = place + width_mm(words, BODY_PT) + AFTER_MM
        put(axes, (after, y), wall, SMALL_PT, colour=GREY)
    eyes = "" if row.mark == MARK else f"{row.eyes_m:.2f}"
    cells = (f"{row.height_m:.2f}", tilt_words(row.tilt_deg), turn_words(row.turn_deg), eyes)
    for place, cell in zip(places[4:8], cells, strict=True):
        put(axes, (place, y), cell)
    name = _lines(axes, (places[1], y), row.name, places[2] - places[1] - AFTER_MM, BODY_PT)
    faces = _lines(axes, (places[8], y), row.aim, x + width - places[8], SMALL_PT)
    return y + max(name, faces, line_mm(BODY_PT)) + 0.4


def _note(axes: Axes, x: float, y: float, width: float) -> float:
    return paragraph(axes, (x, y), NOTE, width, SMALL_PT, colour=GREY)


def _lines(axes: Axes, at: tuple[float, float], text: str, width: float, size_pt: float) -> float:
    """Text under itself to a width; returns its height [mm]."""
    lines = wrapped(text, width, size_pt)
    for k, line in enumerate(lines):
        put(axes, (at[0], at[1] + k * line_mm(size_pt)), line, size_pt)
    return len(lines) * line_mm(size_pt)
