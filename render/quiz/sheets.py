"""The sheet of a quiz for the class: pictures, numbers, and lines to write on; no answers."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from render.card.page import (
    BODY_PT,
    GREY,
    INK,
    MARGIN_MM,
    PAPERS,
    SMALL_PT,
    TITLE_PT,
    Paper,
    line_mm,
    new_page,
    paragraph,
    put,
    width_mm,
    wrapped,
)
from render.picture.files import srgb_profile, write_whole
from render.quiz.pictures import Pictured
from render.quiz.questions import Line
from render.series.sheet import STYLE

SUFFIXES = (".pdf", ".png")
DPI = 200  # of a PNG page: pictures of the usual size lose nothing
TITLE = "Lighting quiz"
ACROSS, GAP_MM = 2, 8.0
TICK_MM, CHOICE_GAP_MM = 2.6, 2.8  # side of a box to tick, and from choice to choice
RING_SHARE = 0.04  # radius of the ring in a picture, of its width
BLANK_MM = 22.0  # length of a line to write a number on
# Words that some kinds of questions need, for the class.
LEGENDS = {
    "ratio": "K: the key alone, a flat meter at the lit cheek, aimed at the key. F: what fills the "
    "shadow cheek, fill lights and what the room gives back, the meter aimed at the camera.",
    "pattern": "Broad: the key lights the side of the face that is turned to the camera; short: "
    "the side turned away; neither: key or camera straight before the nose.",
}
USUAL = "Every picture is one flash exposure without tone curve. Left and right are the camera's."


def write_class(out: Path, made: Sequence[Pictured], seed: int, paper: str) -> list[Path]:
    """Write the sheet for the class: nothing in it tells an answer. Raises OutputError."""
    with mpl.rc_context(STYLE):
        return written(out, _class_pages(made, seed, PAPERS[paper]))


def written(out: Path, pages: list[Figure]) -> list[Path]:
    """Write pages as one PDF, or a PNG each; raises OutputError."""
    if out.suffix.lower() == ".pdf":
        return [write_whole(out, lambda part: _pdf(part, pages))]
    others = [out.with_stem(f"{out.stem}-{k}") for k in range(2, len(pages) + 1)]
    return [
        write_whole(path, partial(_png, page=page))
        for path, page in zip([out, *others], pages, strict=True)
    ]


def _pdf(path: Path, pages: list[Figure]) -> None:
    about = {"Title": TITLE, "Creator": "tenthstop", "CreationDate": None}
    with PdfPages(path, metadata=about) as file:
        for page in pages:
            file.savefig(page, dpi=DPI)


def _png(path: Path, page: Figure) -> None:
    profile: Any = {"icc_profile": srgb_profile()}
    about = {"Software": "tenthstop", "Title": TITLE}
    page.savefig(path, dpi=DPI, metadata=about, pil_kwargs=profile)


def _class_pages(made: Sequence[Pictured], seed: int, paper: Paper) -> list[Figure]:
    kinds = dict.fromkeys(each.question.kind for each in made)
    legend = " ".join([USUAL, *(LEGENDS[kind] for kind in kinds if kind in LEGENDS)])
    column = (paper.column_mm - (ACROSS - 1) * GAP_MM) / ACROSS
    left = list(made)
    pages: list[Figure] = []
    while left:
        figure, axes = new_page(paper)
        top = _class_head(axes, paper, seed, len(pages) + 1, "" if pages else legend)
        bottom = paper.height_mm - MARGIN_MM
        high = (bottom - top) / 2
        for row in range(2):
            for across in range(ACROSS):
                if left:
                    place = (MARGIN_MM + across * (column + GAP_MM), top + row * high)
                    _posed(figure, axes, left.pop(0), place, (column, high - 4.0))
        pages.append(figure)
    return pages


def _class_head(axes: Axes, paper: Paper, seed: int, page: int, legend: str) -> float:
    """Title and lines for a name; returns where the questions begin [mm]."""
    x, right, y = MARGIN_MM, paper.width_mm - MARGIN_MM, MARGIN_MM
    put(axes, (x, y), TITLE, TITLE_PT, weight="bold")
    put(axes, (right, y), f"sheet {seed}, page {page}", SMALL_PT, colour=GREY, align="right")
    if page == 1:
        y += 9.0
        put(axes, (x, y), "Name")
        _rule(axes, x + 11, y, 72.0)
        put(axes, (x + 92, y), "Date")
        _rule(axes, x + 102, y, 34.0)
        y = paragraph(axes, (x, y + 7.0), legend, paper.column_mm, SMALL_PT, colour=GREY)
    return y + (3.0 if page == 1 else 6.0)


def _posed(
    figure: Figure,
    axes: Axes,
    made: Pictured,
    place: tuple[float, float],
    size: tuple[float, float],
) -> None:
    """A question: number and words, the picture, then the lines to write on."""
    question, (x, y), (wide, high) = made.question, place, size
    number = f"{question.number}"
    indent = width_mm(number, BODY_PT + 2, "bold") + 2.5
    put(axes, (x, y + 3.6), number, BODY_PT + 2, weight="bold")
    said = wrapped(question.words, wide - indent)
    for k, text in enumerate(said):
        put(axes, (x + indent, y + 3.6 + k * line_mm(BODY_PT)), text)
    step = 1.35 * line_mm(BODY_PT)
    rows = [row for line in question.lines for row in _rows(line, wide)]
    above = 2 * line_mm(BODY_PT) + 2.6
    room = high - above - len(rows) * step - 1.0
    _, low = mount(figure, axes, made, (x, y + above), (wide, room))
    for k, (line, choices) in enumerate(rows):
        _write_on(axes, (x, low + 1.2 + (k + 0.8) * step), line, choices)


def _rows(line: Line, wide: float) -> list[tuple[Line, tuple[str, ...]]]:
    """A line's choices broken into rows of a width; a blank is one row."""
    if not line.choices:
        return [(line, ())]
    rows: list[list[str]] = [[]]
    used = 0.0
    for choice in line.choices:
        needs = _choice_mm(choice)
        if rows[-1] and used + needs > wide:
            rows.append([])
            used = 0.0
        rows[-1].append(choice)
        used += needs
    return [(line, tuple(row)) for row in rows]


def _choice_mm(choice: str) -> float:
    return TICK_MM + 1.6 + width_mm(choice, BODY_PT) + CHOICE_GAP_MM


def _write_on(axes: Axes, at: tuple[float, float], line: Line, choices: tuple[str, ...]) -> None:
    """Boxes to tick, or a rule between words."""
    x, y = at
    if not choices:
        before = width_mm(line.before, BODY_PT) + 2.0 if line.before else 0.0
        put(axes, (x, y), line.before)
        _rule(axes, x + before, y, BLANK_MM)
        put(axes, (x + before + BLANK_MM + 1.5, y), line.after)
        return
    for choice in choices:
        axes.add_patch(
            Rectangle((x, y - TICK_MM + 0.3), TICK_MM, TICK_MM, fc="none", ec=INK, lw=0.6)
        )
        put(axes, (x + TICK_MM + 1.6, y), choice)
        x += _choice_mm(choice)


def _rule(axes: Axes, x: float, y: float, long: float) -> None:
    axes.plot([x, x + long], [y + 0.8] * 2, color=INK, lw=0.5)


def mount(
    figure: Figure,
    axes: Axes,
    made: Pictured,
    corner: tuple[float, float],
    room: tuple[float, float],
) -> tuple[float, float]:
    """A picture as large as fits, its ring on it; returns its right and lower ends [mm]."""
    rows, columns = made.pixels.shape[:2]
    scale = min(room[0] / columns, room[1] / rows)
    wide, high = scale * columns, scale * rows
    left, top = corner
    sheet_wide, sheet_high = axes.get_xlim()[1], axes.get_ylim()[0]
    box = (left / sheet_wide, 1 - (top + high) / sheet_high, wide / sheet_wide, high / sheet_high)
    own = figure.add_axes(box)
    own.imshow(made.pixels, aspect="auto", interpolation="antialiased")
    own.axis("off")
    mark = made.question.mark
    if mark is not None:
        at = (mark[0] * columns, mark[1] * rows)
        for colour, width in ((INK, 2.2), ("#ffffff", 0.9)):
            own.add_patch(Circle(at, RING_SHARE * columns, fc="none", ec=colour, lw=width))
    return left + wide, top + high
