"""A printed page measured in millimetres from its upper left corner, and text set on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

MM_PER_INCH, POINTS_PER_INCH = 25.4, 72.0
MARGIN_MM = 18.0
FAMILY = "DejaVu Sans"  # comes with matplotlib, so that every machine sets the same page
BODY_PT, SMALL_PT, HEAD_PT, TITLE_PT = 8.0, 6.8, 8.0, 15.0
LEADING = 1.38  # distance of lines over size of type
INK, GREY, PALE = "#000000", "#555555", "#bbbbbb"


@dataclass(frozen=True, slots=True)
class Paper:
    """Size of a sheet, upright."""

    width_mm: float
    height_mm: float

    @property
    def column_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - 2 * MARGIN_MM


# ISO 216 A4; ANSI/ASME Y14.1 size A.
PAPERS = {"a4": Paper(210.0, 297.0), "letter": Paper(215.9, 279.4)}


def new_page(paper: Paper) -> tuple[Figure, Axes]:
    """An empty sheet whose axes count millimetres, y downwards."""
    size = (paper.width_mm / MM_PER_INCH, paper.height_mm / MM_PER_INCH)
    figure = Figure(figsize=size, facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, paper.width_mm)
    axes.set_ylim(paper.height_mm, 0)
    axes.axis("off")
    return figure, axes


def line_mm(size_pt: float) -> float:
    """Distance of two lines of text."""
    return size_pt * LEADING * MM_PER_INCH / POINTS_PER_INCH


@lru_cache(maxsize=4096)
def width_mm(text: str, size_pt: float, weight: str = "normal") -> float:
    """Width of a line of text."""
    font = FontProperties(family=FAMILY, size=size_pt, weight=weight)
    width, _, _ = TextToPath().get_text_width_height_descent(text, font, False)
    return float(width) * MM_PER_INCH / POINTS_PER_INCH


def put(
    axes: Axes,
    at: tuple[float, float],
    text: str,
    size_pt: float = BODY_PT,
    *,
    weight: str = "normal",
    colour: str = INK,
    align: str = "left",
    middle: bool = False,
) -> None:
    """One line of text; `at` is the end of its base line [mm], or its middle height."""
    axes.text(
        *at,
        text,
        fontsize=size_pt,
        family=FAMILY,
        weight=weight,
        color=colour,
        ha=align,
        va="center_baseline" if middle else "baseline",
        parse_math=False,
        zorder=9,
    )


def wrapped(text: str, width: float, size_pt: float = BODY_PT, weight: str = "normal") -> list[str]:
    """Text in lines that are at most so wide [mm]; no-break spaces hold, longer words are cut."""
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width_mm(longer, size_pt, weight) > width:
            lines.append(word)
        else:
            lines[-1] = longer
        while width_mm(lines[-1], size_pt, weight) > width and len(lines[-1]) > 1:
            whole = lines[-1]
            fits = next(n for n in range(len(whole) - 1, 0, -1) if n == 1 or
                        width_mm(whole[:n], size_pt, weight) <= width)  # fmt: skip
            lines[-1:] = [whole[:fits], whole[fits:]]
    return lines


def paragraph(
    axes: Axes,
    at: tuple[float, float],
    text: str,
    width: float,
    size_pt: float = BODY_PT,
    *,
    weight: str = "normal",
    colour: str = INK,
) -> float:
    """Text set to a width [mm]; returns the base line after it."""
    x, y = at
    for line in wrapped(text, width, size_pt, weight):
        put(axes, (x, y), line, size_pt, weight=weight, colour=colour)
        y += line_mm(size_pt)
    return y


def heading(axes: Axes, at: tuple[float, float], text: str, width: float) -> float:
    """A heading over a hair line; returns the next base line."""
    put(axes, at, text, HEAD_PT, weight="bold")
    axes.plot([at[0], at[0] + width], [at[1] + 1.6] * 2, color=INK, lw=0.5)
    return at[1] + 1.6 + line_mm(BODY_PT) + 0.4
