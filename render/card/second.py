"""Second page of the card: what to set, what to read, in which order, what to mind."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from render.card.content import Card, LightRow, spoken, told
from render.card.page import (
    BODY_PT,
    GREY,
    INK,
    MARGIN_MM,
    PALE,
    SMALL_PT,
    Paper,
    heading,
    line_mm,
    new_page,
    paragraph,
    put,
)
from render.card.tape import CAMERA, MARK, Taped

COLUMNS_MM = (0.0, 7.0, 33.0, 54.0, 85.0, 106.0, 127.0, 151.0)
HEADS = ("", "light", "power", "held at", "alone", "meter said", "together", "meter said")
BLANK_MM = 19.0  # line to write on
TALL_MM = 10.5  # a row of the table, room for handwriting
BETWEEN_MM, BLOCK_MM = 0.8, 5.5  # between paragraphs, between blocks
PLACES = (
    "Places: x to camera right of the mark under the eyes, y up from the floor, z from the mark "
    "towards the camera, in metres."
)
# Beyond the doubt of an output that nobody has measured, something stands wrong.
FAR_OFF_STOPS = 0.5


def later_pages(card: Card, paper: Paper) -> list[Figure]:
    """Table of the lights, order of work, findings and cautions; mostly one page."""
    pages: list[Figure] = []
    y = paper.height_mm
    for block in (_lights, _order, _wrong, _mind):
        _, scratch = new_page(paper)
        if y + block(scratch, card, paper.column_mm, 0.0) > paper.height_mm - MARGIN_MM:
            figure, axes = new_page(paper)
            pages.append(figure)
            put(axes, (MARGIN_MM, MARGIN_MM + 4.0), card.title, 11.0, weight="bold")
            y = MARGIN_MM + 13.0
        y = block(axes, card, paper.column_mm, y) + BLOCK_MM
    return pages


def _wrong(axes: Axes, card: Card, width: float, y: float) -> float:
    """What the checks found wrong; nothing at all where they found nothing."""
    if not card.wrong:
        return y - BLOCK_MM
    y = heading(axes, (MARGIN_MM, y), "FOUND WRONG: change it before the sitter comes", width)
    for words in card.wrong:
        y = paragraph(axes, (MARGIN_MM, y), words, width) + BETWEEN_MM
    return paragraph(axes, (MARGIN_MM, y), PLACES, width, SMALL_PT, colour=GREY)


def _mind(axes: Axes, card: Card, width: float, y: float) -> float:
    """Cautions for this set, the general one last and bold."""
    y = heading(axes, (MARGIN_MM, y), "MIND IN THIS SET", width)
    for words in card.cautions[:-1]:
        y = paragraph(axes, (MARGIN_MM, y), words, width) + BETWEEN_MM
    return paragraph(axes, (MARGIN_MM, y + 2.5), card.cautions[-1], width, weight="bold")


def _lights(axes: Axes, card: Card, width: float, y: float) -> float:
    iso = f"{card.readings.iso_speed:g}"
    y = heading(axes, (MARGIN_MM, y), f"LIGHTS AND READINGS at ISO {iso}", width)
    places = [MARGIN_MM + column for column in COLUMNS_MM]
    for x, head in zip(places, HEADS, strict=True):
        put(axes, (x, y), head, SMALL_PT, colour=GREY)
    for row in card.lights:
        y += 5.0
        _light(axes, row, places, y)
        y += TALL_MM - 5.0
        axes.plot([MARGIN_MM, MARGIN_MM + width], [y + 1.6] * 2, color=PALE, lw=0.4)
    return paragraph(axes, (MARGIN_MM, y + 6.0), _how(card), width, SMALL_PT, colour=GREY)


def _light(axes: Axes, row: LightRow, places: list[float], y: float) -> None:
    role = f" ({row.role})" if row.role and row.role != row.name else ""
    held = spoken(row.alone.point) if row.alone else "-"
    cells = {
        0: row.mark,
        1: spoken(row.name) + role,
        2: row.power,
        3: held,
        4: row.alone.shown if row.alone else "-",
        6: row.together.shown if row.together and row.alone else "-",
    }
    for i, cell in cells.items():
        weight = "bold" if i in (0, 2, 4, 6) else "normal"
        put(axes, (places[i], y), cell, BODY_PT, weight=weight)
    if row.alone:
        for i in (5, 7):
            ends = [places[i], places[i] + BLANK_MM]
            axes.plot(ends, [y + 0.8] * 2, color=INK, lw=0.5)
    put(axes, (places[1], y + line_mm(BODY_PT)), row.gear, SMALL_PT, colour=GREY)


def _how(card: Card) -> str:
    alone = next((row.alone for row in card.lights if row.alone), None)
    points: dict[str, list[str]] = {}
    for each in card.lights:
        if each.together:
            points.setdefault(told(each.together), []).append(spoken(each.together.point))
    kinds = [f"{kind} ({', '.join(dict.fromkeys(held))})" for kind, held in points.items()]
    doubt = sorted({row.calibration for row in card.readings.readings if row.lights != "all"})
    bounce = "with the room's bounce" if card.bounce else "without the room's bounce"
    first = f"Alone: {told(alone)}. " if alone else ""
    return (
        f"{first}Together: {'; '.join(kinds)}. Predicted {bounce}. Output of the lights: "
        f"{'; '.join(doubt)}. Tenths of a stop after the +."
    )


def _order(axes: Axes, card: Card, width: float, y: float) -> float:
    """Set up and verify one light at a time."""
    y = heading(axes, (MARGIN_MM, y), "ORDER OF WORK", width)
    for i, words in enumerate(_steps(card), 1):
        put(axes, (MARGIN_MM, y), f"{i}", BODY_PT, weight="bold")
        y = paragraph(axes, (MARGIN_MM + 7.0, y), words, width - 7.0) + 0.8
    return y


def _steps(card: Card) -> list[str]:
    rows = {row.mark: row for row in card.tape}
    mark = rows[MARK]
    steps = [
        f"Mark the floor under the eyes with a cross: {_from(mark)}. Eyes at {mark.height_m:.2f}."
    ]
    if CAMERA in rows:
        at = rows[CAMERA]
        steps[0] += f" Lens {_from(at)}, at {at.height_m:.2f}; {at.aim} in the middle of its frame."
    for light in card.lights:
        if light.alone is None:
            steps.append(f"{spoken(light.name)}: stays off.")
            continue
        at = rows[light.mark]
        steps.append(
            f"{spoken(light.name)}: stand it {_from(at)}, middle of its front at "
            f"{at.height_m:.2f}, aimed at {at.aim}. Power {_held(light.power)}. All others off, "
            f"read at {spoken(light.alone.point)}: {_held(light.alone.shown)}. Write down what the "
            "meter says."
        )
    steps.append(
        f"A light off by more than {FAR_OFF_STOPS} stop: look at distance, aim, cloths and grid "
        "before you turn its dial. Where all of them are off alike, look at the meter's ISO."
    )
    steps.append("All lights on: read every point once more with the readings of the last column.")
    return steps


def _held(shown: str) -> str:
    """A power or reading that no line break parts."""
    return shown.replace(" ", "\N{NO-BREAK SPACE}")


def _from(row: Taped) -> str:
    return f"{row.across[1]:.2f} from {row.across[0]}, {row.along[1]:.2f} from {row.along[0]}"
