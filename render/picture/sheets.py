"""Several pictures on one sheet, in rows, with words under each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from render.picture.develop import Picture, codes
from render.picture.take import Look

GROUND, INK = (24, 24, 24), (205, 200, 192)
LEAST_TYPE_PX = 9  # smaller is not read at a glance; common practice, no source
LEADING = 1.25  # line to line, of the height of the type; common practice, no source
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont
Pixels = NDArray[np.uint8]
Corner = tuple[int, int]  # left and top [px]


@dataclass(frozen=True, slots=True)
class Plate:
    """One picture of the sheet and what is written under it."""

    name: str
    caption: tuple[str, ...]  # line by line
    look: Look
    detail: Picture | None = None  # a small square beside the caption, below its first line


@dataclass(frozen=True, slots=True)
class Cells:
    """Sizes on a sheet [px]."""

    width: int  # of the widest picture, or more where the words need it
    height: int
    gap: int
    line: int  # from one line of type to the next
    lines: int  # under each picture
    columns: int

    def corner(self, k: int) -> tuple[int, int]:
        """Left and top of the picture k below the sheet's heading."""
        step_x, step_y = self.width + self.gap, self.height + self.gap + self.line * self.lines
        return self.gap + k % self.columns * step_x, self.gap + k // self.columns * step_y


def pixels_of(picture: Picture) -> Pixels:
    """8-bit sRGB (h, w, 3)."""
    return np.round(255 * codes(picture.linear)).astype(np.uint8)


def sheet(
    plates: list[Plate], columns: int, heading: str = "", foot: str = "", line_share: float = 1 / 18
) -> Image.Image:
    """The pictures side by side in rows, each with its caption underneath, all in one type size.

    heading, foot : words above and below them; the foot is broken into lines
    line_share    : least height of a line of type, of a picture's width
    """
    line = _line(plates, line_share)
    font = _font(plates, line)
    captions = [_caption(plate, font, _widest(plates)) for plate in plates]
    cells = _cells(plates, captions, font, line, columns)
    width = cells.gap + columns * (cells.width + cells.gap)
    over, below = (_broken(words, font, width - 2 * cells.gap) for words in (heading, foot))
    above = cells.gap + len(over) * cells.line if over else 0
    rows = -(-len(plates) // columns)
    bottom = above + cells.corner(rows * columns)[1]
    page = Image.new("RGB", (width, bottom + len(below) * cells.line + (cells.gap if below else 0)))
    page.paste(GROUND, (0, 0, *page.size))
    draw = ImageDraw.Draw(page)
    for k, (plate, caption) in enumerate(zip(plates, captions, strict=True)):
        left, top = cells.corner(k)
        _mount(page, plate, caption, font, cells, (left, top + above))
    for start, lines in ((cells.gap, over), (bottom, below)):
        for i, words in enumerate(lines):
            draw.text((cells.gap, start + (i + 0.5) * cells.line), words, INK, font, anchor="lm")
    return page


def _broken(words: str, font: Font, width: int) -> list[str]:
    """Words in lines that fit into a width [px]."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _across(picture: Picture) -> int:
    return int(picture.linear.shape[1])


def _widest(plates: list[Plate]) -> int:
    return max(_across(plate.look.picture) for plate in plates)


def _gap(plates: list[Plate]) -> int:
    return max(4, _widest(plates) // 60)


def _line(plates: list[Plate], line_share: float) -> int:
    """From one line of type to the next [px]."""
    line, lines = max(12, round(_widest(plates) * line_share)), max(len(p.caption) for p in plates)
    details = [plate.detail.linear.shape[0] for plate in plates if plate.detail is not None]
    if details and lines > 1:  # the squares stand beside the lines below the first
        line = max(line, -(-max(details) // (lines - 1)))
    return line


def _font(plates: list[Plate], line: int) -> Font:
    """The largest type in which every line fits under its picture, or beside its detail.

    Where none that can be read does, the lines are to be broken, and need not be small for it; but
    what stands beside a detail stays whole and is small.
    """
    width, gap, most = _widest(plates), _gap(plates), round(line / LEADING)
    for size in range(most, LEAST_TYPE_PX - 1, -1):
        font = ImageFont.load_default(size=size)
        if max(_needed(plate, plate.caption, font, gap) for plate in plates) <= width:
            return font
    beside = any(plate.detail is not None for plate in plates)
    return ImageFont.load_default(size=LEAST_TYPE_PX if beside else most)


def _needed(plate: Plate, caption: tuple[str, ...], font: Font, gap: int) -> int:
    """Width [px] that a caption takes up, with the detail beside the lines below its first."""
    beside = 0 if plate.detail is None else _across(plate.detail) + gap
    widths = [math.ceil(font.getlength(line)) for line in caption]
    return max((w + (beside if i else 0) for i, w in enumerate(widths)), default=0)


def _caption(plate: Plate, font: Font, width: int) -> tuple[str, ...]:
    """Its lines, broken where they are wider than the pictures and nothing stands beside them."""
    if plate.detail is not None:
        return plate.caption
    return tuple(part for line in plate.caption for part in _broken(line, font, width))


def _cells(
    plates: list[Plate], captions: list[tuple[str, ...]], font: Font, line: int, columns: int
) -> Cells:
    """Cells as wide as the widest picture, or as what cannot be broken."""
    height, gap = max(plate.look.picture.linear.shape[0] for plate in plates), _gap(plates)
    pairs = zip(plates, captions, strict=True)
    width = max(_widest(plates), *(_needed(plate, said, font, gap) for plate, said in pairs))
    return Cells(width, height, gap, line, max(map(len, captions)), columns)


def _mount(
    page: Image.Image, plate: Plate, caption: tuple[str, ...], font: Font, cells: Cells, at: Corner
) -> None:
    """Paste a picture, its detail at the right below it, and write the caption."""
    (left, top), spare = at, cells.width - _across(plate.look.picture)
    draw, under = ImageDraw.Draw(page), top + cells.height
    plain = plate.detail is None  # else picture and detail share their right edge
    aside, middle = spare // 2 if plain else spare, left + cells.width / 2
    page.paste(Image.fromarray(pixels_of(plate.look.picture)), (left + aside, top))
    for i, line in enumerate(caption):
        x, anchor = (middle, "mm") if plain else (left, "lm")
        draw.text((x, under + (i + 0.5) * cells.line), line, INK, font, anchor=anchor)
    if plate.detail is not None:
        detail = Image.fromarray(pixels_of(plate.detail))
        page.paste(detail, (left + cells.width - detail.width, under + cells.line))
