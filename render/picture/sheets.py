"""Several pictures on one sheet, in rows, with words under each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from render.picture.develop import Picture, codes
from render.picture.take import Look

GROUND, INK = (24, 24, 24), (205, 200, 192)
LEAST_TYPE_PX = 6
LEADING = 1.25  # line to line, of the height of the type; common practice, no source
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont
Pixels = NDArray[np.uint8]


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

    width: int  # of a picture
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
    cells = _cells(plates, columns, line_share)
    font = _font(plates, cells)
    width = cells.gap + columns * (cells.width + cells.gap)
    over, below = (_broken(words, font, width - 2 * cells.gap) for words in (heading, foot))
    above = cells.gap + len(over) * cells.line if over else 0
    rows = -(-len(plates) // columns)
    bottom = above + cells.corner(rows * columns)[1]
    page = Image.new("RGB", (width, bottom + len(below) * cells.line + (cells.gap if below else 0)))
    page.paste(GROUND, (0, 0, *page.size))
    draw = ImageDraw.Draw(page)
    for k, plate in enumerate(plates):
        left, top = cells.corner(k)
        _mount(page, plate, cells, font, (left, top + above))
    for start, lines in ((cells.gap, over), (bottom, below)):
        for i, line in enumerate(lines):
            draw.text((cells.gap, start + (i + 0.5) * cells.line), line, INK, font, anchor="lm")
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


def _cells(plates: list[Plate], columns: int, line_share: float) -> Cells:
    shapes = [plate.look.picture.linear.shape for plate in plates]
    height, width = (max(shape[k] for shape in shapes) for k in (0, 1))
    lines = max(len(plate.caption) for plate in plates)
    line = max(12, round(width * line_share))
    details = [plate.detail.linear.shape[0] for plate in plates if plate.detail is not None]
    if details and lines > 1:  # the squares stand beside the lines below the first
        line = max(line, -(-max(details) // (lines - 1)))
    return Cells(width, height, max(4, width // 60), line, lines, columns)


def _font(plates: list[Plate], cells: Cells) -> Font:
    """The largest type in which every line fits where it stands."""
    for size in range(round(cells.line / LEADING), LEAST_TYPE_PX - 1, -1):
        font = ImageFont.load_default(size=size)
        if all(
            font.getlength(line) <= room
            for plate in plates
            for line, room in zip(plate.caption, _rooms(plate, cells), strict=True)
        ):
            break
    return font


def _rooms(plate: Plate, cells: Cells) -> list[int]:
    """Width [px] that there is for each line of a caption."""
    beside = 0 if plate.detail is None else plate.detail.linear.shape[1] + cells.gap
    return [cells.width - (beside if i else 0) for i in range(len(plate.caption))]


def _mount(
    page: Image.Image, plate: Plate, cells: Cells, font: Font, corner: tuple[int, int]
) -> None:
    """Paste a picture, its detail at the right below it, and write the caption."""
    left, top = corner
    page.paste(Image.fromarray(pixels_of(plate.look.picture)), corner)
    draw, under = ImageDraw.Draw(page), top + cells.height
    if plate.detail is None:
        place = (left + cells.width / 2, under + cells.line * cells.lines / 2)
        words = "\n".join(plate.caption)
        draw.multiline_text(place, words, font=font, fill=INK, anchor="mm", align="center")
        return
    for i, line in enumerate(plate.caption):
        draw.text((left, under + (i + 0.5) * cells.line), line, INK, font, anchor="lm")
    detail = Image.fromarray(pixels_of(plate.detail))
    page.paste(detail, (left + cells.width - detail.width, under + cells.line))
