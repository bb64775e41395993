"""A contact sheet as a printed plate: pictures in rows, what changed and the readings below each.

Everything is measured in pixels of the pictures, so that a PNG shows them one to one; a PDF holds
the same page with its words as words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath
from numpy.typing import NDArray

from render.picture.files import srgb_profile, write_whole
from render.series.difference import COLOURS

Pixels = NDArray[np.uint8]

DPI = 100.0  # of the page; pictures keep their pixels, so it only sets the PDF's size
POINT_PX = DPI / 72.0
FAMILY = "DejaVu Sans"  # comes with the plotting library, so that every machine sets the same page
INK, GREY, PALE = "#000000", "#555555", "#bbbbbb"
TYPE_SHARE, LEAST_TYPE_PX = 1 / 20, 11.0  # of a picture's width
LEADING = 1.36  # distance of lines over size of type
TITLE_SCALE, NOTE_SCALE = 1.35, 0.9  # of the captions' type
GAP_SHARE = 1 / 12  # between pictures, of a picture's width
BAR_PX = 12  # height of the colour scale
MOST_ACROSS = 6  # pictures side by side where one thing changes; common practice
STYLE: Any = {"pdf.fonttype": 42, "text.hinting": "none", "font.family": FAMILY}


@dataclass(frozen=True, slots=True)
class Plate:
    """One picture of the sheet."""

    pixels: Pixels  # (h, w, 3) 8-bit sRGB
    caption: tuple[str, ...]  # line by line, the first in bold


@dataclass(frozen=True, slots=True)
class Page:
    """What stands on the sheet."""

    title: str
    plates: tuple[Plate, ...]
    columns: int
    row_heads: tuple[str, ...]  # above each row; empty for none
    foot: str
    scale_stops: float | None = None  # half the width of a colour scale of differences
    lead: tuple[str, ...] = ()  # paragraphs under the title


@dataclass(frozen=True, slots=True)
class _Sizes:
    """Sizes of a page [px]."""

    type: float
    gap: float
    cell: float  # width of a picture with its caption
    picture: float  # height of the pictures
    columns: int
    lines: int

    @property
    def line(self) -> float:
        return LEADING * self.type

    @property
    def across(self) -> float:
        """Between the margins."""
        return self.columns * (self.cell + self.gap) - self.gap


def write_sheet(path: Path, page: Page) -> Path:
    """Write the sheet as PNG or PDF, by the suffix; raises OutputError."""
    with mpl.rc_context(STYLE):
        figure = _drawn(page)
        if path.suffix.lower() == ".pdf":
            about: dict[str, Any] = {"Title": page.title, "Creator": "tenthstop"}
            about["CreationDate"] = None
            return write_whole(path, lambda part: figure.savefig(part, dpi=DPI, metadata=about))
        profile: Any = {"icc_profile": srgb_profile()}
        about = {"Software": "tenthstop", "Title": page.title}
        return write_whole(
            path,
            lambda part: figure.savefig(part, dpi=DPI, metadata=about, pil_kwargs=profile),
        )


def _sizes(page: Page) -> _Sizes:
    width = max(plate.pixels.shape[1] for plate in page.plates)
    size = max(LEAST_TYPE_PX, width * TYPE_SHARE)
    longest = max(
        _width(line, size, "normal" if k else "bold")
        for plate in page.plates
        for k, line in enumerate(plate.caption)
    )
    return _Sizes(
        type=size,
        gap=float(max(8, round(width * GAP_SHARE))),
        cell=float(max(width, np.ceil(longest))),
        picture=float(max(plate.pixels.shape[0] for plate in page.plates)),
        columns=page.columns,
        lines=max(len(plate.caption) for plate in page.plates),
    )


def _drawn(page: Page) -> Figure:
    sizes = _sizes(page)
    title = _broken(page.title, sizes.across, TITLE_SCALE * sizes.type, "bold")
    lead = [line for each in page.lead for line in _broken(each, sizes.across, sizes.type)]
    foot = _broken(page.foot, sizes.across, NOTE_SCALE * sizes.type)
    rows = -(-len(page.plates) // page.columns)
    above = sizes.gap + (len(title) * TITLE_SCALE + 0.2) * sizes.line
    head = above + (len(lead) + (0.8 if lead else 0.3)) * sizes.line
    own_head = 1.5 * sizes.line if page.row_heads else 0.0
    row = own_head + sizes.picture + (sizes.lines + 0.5) * sizes.line + sizes.gap
    scale = 0.0 if page.scale_stops is None else BAR_PX + 3.5 * sizes.line
    bottom = scale + len(foot) * NOTE_SCALE * sizes.line + sizes.gap
    wide, high = np.ceil(sizes.across + 2 * sizes.gap), np.ceil(head + rows * row + bottom)
    figure = Figure(figsize=(wide / DPI, high / DPI), dpi=DPI, facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, wide)
    axes.set_ylim(high, 0)
    axes.axis("off")
    left = sizes.gap
    _lines(axes, (left, sizes.gap), title, TITLE_SCALE * sizes.type, "bold")
    _lines(axes, (left, above), lead, sizes.type)
    for k, plate in enumerate(page.plates):
        across, down = k % page.columns, k // page.columns
        top = head + down * row
        if page.row_heads and across == 0:
            _lines(axes, (left, top), [page.row_heads[down]], sizes.type, "bold")
            rule = top + 1.2 * sizes.line
            axes.plot([left, left + sizes.across], [rule] * 2, color=INK, lw=0.5)
        corner = (left + across * (sizes.cell + sizes.gap), float(np.ceil(top + own_head)))
        _mount(figure, axes, plate, corner, sizes)
    top = head + rows * row
    if page.scale_stops is not None:
        _scale(figure, (left, top, sizes.across), page.scale_stops, sizes.type)
    _lines(axes, (left, top + scale), foot, NOTE_SCALE * sizes.type, colour=GREY)
    return figure


def _mount(
    figure: Figure, axes: Axes, plate: Plate, corner: tuple[float, float], sizes: _Sizes
) -> None:
    """A picture, pixel on pixel, with its caption below."""
    high, wide = plate.pixels.shape[:2]
    left, top = corner
    frame = _box(figure, left, top, wide, high)
    own = figure.add_axes(frame)
    own.imshow(plate.pixels, interpolation="none", aspect="auto")
    own.axis("off")
    below = top + sizes.picture + 0.4 * sizes.line
    _lines(axes, (left, below), plate.caption[:1], sizes.type, "bold")
    _lines(axes, (left, below + sizes.line), plate.caption[1:], sizes.type)


def _box(
    figure: Figure, left: float, top: float, wide: float, high: float
) -> tuple[float, float, float, float]:
    across, down = figure.get_size_inches() * DPI
    return left / across, 1 - (top + high) / down, wide / across, high / down


def _scale(figure: Figure, place: tuple[float, float, float], half: float, size: float) -> None:
    """The colours of the differences, labelled in stops."""
    left, top, across = place
    bar = figure.add_axes(_box(figure, left, top, min(across, 36 * size), BAR_PX))
    colours = ScalarMappable(Normalize(-half, half), colormaps[COLOURS])
    made = figure.colorbar(colours, cax=bar, orientation="horizontal")
    step = 0.5 if half <= 1.5 else 1.0
    ticks = step * np.arange(-np.floor(half / step), np.floor(half / step) + 1)
    made.set_ticks(list(ticks), labels=[f"{tick:+g}" if tick else "0" for tick in ticks])
    made.set_label("stops over the first picture", size=size / POINT_PX)
    made.ax.tick_params(labelsize=size / POINT_PX, length=3)


def _lines(
    axes: Axes,
    at: tuple[float, float],
    lines: Sequence[str],
    size: float,
    weight: str = "normal",
    colour: str = INK,
) -> None:
    """Lines of text below each other; `at` is the upper left corner [px]."""
    for k, line in enumerate(lines):
        axes.text(
            at[0],
            at[1] + k * LEADING * size + size,
            line,
            fontsize=size / POINT_PX,
            family=FAMILY,
            weight=weight,
            color=colour,
            parse_math=False,
        )


def _width(text: str, size: float, weight: str = "normal") -> float:
    """Width of a line of text [px]."""
    font = FontProperties(family=FAMILY, size=size, weight=weight)
    return float(TextToPath().get_text_width_height_descent(text, font, False)[0])


def _broken(words: str, width: float, size: float, weight: str = "normal") -> list[str]:
    """Words in lines that fit into a width [px]."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width(longer, size, weight) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
