"""The table of the lights: power, expected reading, and a blank for what the meter said."""

from __future__ import annotations

from functools import partial

from matplotlib.axes import Axes

from render.card.content import Card, LightRow, told
from render.card.flow import Block
from render.card.page import (
    BODY_PT,
    GREY,
    INK,
    PALE,
    SMALL_PT,
    line_mm,
    paragraph,
    put,
    wrapped,
)
from render.card.words import spoken

COLUMNS_MM = (0.0, 7.0, 33.0, 56.0, 87.0, 107.0, 129.0, 151.0)
HEADS = ("", "light", "power", "held at", "alone", "meter said", "together", "meter said")
BLANK_MM = 19.0  # line to write on
BOLD = (0, 2, 4, 6)  # columns of what is set and read
RULE_MM = 2.4  # from the last line of a row to the rule under it


def lights_block(card: Card) -> Block:
    """A row for each light, the key first, then how the meter is held."""
    rows = []
    seen: dict[str, str] = {}
    for row in card.lights:
        together = row.together.point if row.together else ""
        rows.append(partial(_row, row=row, read_with=seen.get(together, "")))
        seen.setdefault(together, row.mark)
    title = f"LIGHTS AND READINGS at ISO {card.readings.iso_speed:g}"
    return Block(title, (*rows, partial(_how, words=how(card))), _heads)


def _heads(axes: Axes, x: float, y: float, width: float) -> float:
    for column, head in zip(COLUMNS_MM, HEADS, strict=True):
        put(axes, (x + column, y), head, SMALL_PT, colour=GREY)
    return y + 5.0


def _row(axes: Axes, x: float, y: float, width: float, row: LightRow, read_with: str) -> float:
    """One light; returns the base line of the next."""
    role = f" ({row.role})" if row.role and row.role != row.name else ""
    together = row.together if row.alone else None
    cells = {
        0: row.mark,
        1: spoken(row.name) + role,
        2: row.power,
        3: spoken(row.alone.point) if row.alone else "–",
        4: row.alone.shown if row.alone else "–",
        6: together.shown if together else "–",
    }
    low = y
    for i, cell in cells.items():
        weight = "bold" if i in BOLD else "normal"
        wide = COLUMNS_MM[min(i + 1, len(COLUMNS_MM) - 1)] - COLUMNS_MM[i] - 1.5
        for k, line in enumerate(wrapped(cell, wide, BODY_PT, weight)):
            put(axes, (x + COLUMNS_MM[i], y + k * line_mm(BODY_PT)), line, weight=weight)
            low = max(low, y + k * line_mm(BODY_PT))
    if row.alone:
        _blank(axes, x + COLUMNS_MM[5], y, f"blank.{row.alone.point}.{row.name}")
    if together and not read_with:
        _blank(axes, x + COLUMNS_MM[7], y, f"blank.{together.point}.{together.lights}")
    elif together:
        put(axes, (x + COLUMNS_MM[7], y), f"as of {read_with}", SMALL_PT, colour=GREY)
    low += line_mm(BODY_PT)
    low = paragraph(axes, (x + COLUMNS_MM[1], low), row.gear, width - COLUMNS_MM[1], SMALL_PT,
                    colour=GREY) - line_mm(SMALL_PT)  # fmt: skip
    axes.plot([x, x + width], [low + RULE_MM] * 2, color=PALE, lw=0.4)
    return low + RULE_MM + 4.2


def _blank(axes: Axes, x: float, y: float, name: str) -> None:
    axes.plot([x, x + BLANK_MM], [y + 0.8] * 2, color=INK, lw=0.5, gid=name)


def _how(axes: Axes, x: float, y: float, width: float, words: str) -> float:
    return paragraph(axes, (x, y), words, width, SMALL_PT, colour=GREY)


def how(card: Card) -> str:
    """How the meter is held, what is in the readings and how sure they are."""
    alone = next((row.alone for row in card.lights if row.alone), None)
    points: dict[str, list[str]] = {}
    for each in card.lights:
        if each.together and each.alone:
            points.setdefault(told(each.together), []).append(spoken(each.together.point))
    kinds = [f"{kind} ({', '.join(dict.fromkeys(held))})" for kind, held in points.items()]
    doubt = sorted({row.calibration for row in card.readings.readings if row.lights != "all"})
    words = f"Alone: {told(alone)}. " if alone else ""
    words += f"Together: {'; '.join(kinds)}. " if kinds else ""
    if card.bounce:
        words += "Predicted with the room's bounce. "
    else:
        why = f": {card.no_bounce}" if card.no_bounce else ""
        words += f"Predicted without the room's bounce{why}. "
    words += f"Output of the lights: {'; '.join(doubt)}. " if doubt else ""
    return f"{words}Tenths of a stop after the +."
