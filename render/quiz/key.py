"""The key of a quiz: answers, what counts as right and why, and what was changed in the set."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from render.card.page import (
    GREY,
    MARGIN_MM,
    PAPERS,
    SMALL_PT,
    TITLE_PT,
    Paper,
    heading,
    new_page,
    paragraph,
    put,
)
from render.quiz.pictures import Pictured
from render.quiz.questions import Question
from render.quiz.sheets import TITLE, mount, written
from render.series.sheet import STYLE

THUMB_MM = 26.0  # width of a picture
ENTRY_MM = 34.0  # least height of an entry: its lines of text


def write_key(out: Path, made: Sequence[Pictured], scene: str, seed: int, paper: str) -> list[Path]:
    """Write the key: answers, what is right, and what was changed. Raises OutputError."""
    with mpl.rc_context(STYLE):
        return written(out, _key_pages(made, scene, seed, PAPERS[paper]))


def _key_pages(made: Sequence[Pictured], scene: str, seed: int, paper: Paper) -> list[Figure]:
    pages: list[Figure] = []
    left = list(made)
    while left:
        figure, axes = new_page(paper)
        y = MARGIN_MM
        put(axes, (MARGIN_MM, y), f"{TITLE}: key", TITLE_PT, weight="bold")
        right = paper.width_mm - MARGIN_MM
        said = f"sheet {seed}, page {len(pages) + 1}"
        put(axes, (right, y), said, SMALL_PT, colour=GREY, align="right")
        y = heading(axes, (MARGIN_MM, y + 8.0), f"From: {scene}", paper.column_mm)
        while left:
            high = _entry_mm(left[0])
            if y + high > paper.height_mm - MARGIN_MM:
                break
            _entry(figure, axes, left.pop(0), y, paper)
            y += high
        pages.append(figure)
    return pages


def _entry_mm(made: Pictured) -> float:
    rows, columns = made.pixels.shape[:2]
    return float(max(THUMB_MM * rows / columns, ENTRY_MM)) + 5.0


def _entry(figure: Figure, axes: Axes, made: Pictured, y: float, paper: Paper) -> None:
    """One question of the key: picture, answers with what is right, what was changed."""
    question, x = made.question, MARGIN_MM
    high = _entry_mm(made) - 5.0
    mount(figure, axes, made, (x, y), (THUMB_MM, high))
    x += THUMB_MM + 6.0
    wide = paper.width_mm - MARGIN_MM - x
    base = y + 3.0
    base = paragraph(
        axes, (x, base), f"{question.number}  {question.words}", wide, SMALL_PT, colour=GREY
    )
    for line in _told(question):
        base = paragraph(axes, (x, base + 0.6), line, wide, weight="bold")
    reasons = dict.fromkeys(each.reason for each in question.answers)
    for words in (
        f"Tolerance: {'; '.join(reasons)}.",
        f"Set-up: {question.change}.",
        f"Scene file: {question.number:02d}.toml.",
    ):
        base = paragraph(axes, (x, base + 0.4), words, wide, SMALL_PT)


def _told(question: Question) -> list[str]:
    """The answers, each with what counts as right."""
    said = []
    for each in question.answers:
        unit = " stops" if each.name.startswith("stops") else ""
        name = "the backdrop" if each.name.startswith("stops") else each.name
        line = f"{name}: {each.shown}{unit}"
        if each.low is not None and each.low != each.high:
            line += f"   (right: {each.accepted}{unit})"
        said.append(line)
    return said
