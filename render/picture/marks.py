"""The look with its measured patches marked and named."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from render.layout import Layout
from render.layout.lens import project
from render.picture.develop import Picture, codes

LINE = (255, 214, 102)  # warm yellow: stands out from skin, hair and grey alike
SHADE = (20, 20, 20)


def marked(picture: Picture, layout: Layout, names: tuple[str, ...]) -> Image.Image:
    """The developed picture with a ring and a name at each of the named points in the frame."""
    pixels: NDArray[np.uint8] = np.round(255 * codes(picture.linear)).astype(np.uint8)
    image = Image.fromarray(pixels)
    if layout.view is None:
        return image
    draw = ImageDraw.Draw(image)
    size = np.array(image.size)
    radius = max(4.0, image.size[1] / 150)
    font = ImageFont.load_default(size=max(10, image.size[1] / 70))
    taken: list[tuple[float, float, float, float]] = []
    for point in layout.points:
        if point.name not in names:
            continue
        place = project(layout.view, point.position_m) * size
        if not np.all((place > 0) & (place < size)):
            continue
        x, y = float(place[0]), float(place[1])
        draw.ellipse((x - radius, y - radius, x + radius, y + radius), outline=LINE, width=2)
        words = point.name.replace("_", " ")
        box = draw.textbbox((0, 0), words, font=font)
        _write(draw, words, font, (x, y), (box[2], box[3]), radius, image.size, taken)
    return image


def _write(
    draw: ImageDraw.ImageDraw,
    words: str,
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
    place: tuple[float, float],
    extent: tuple[float, float],
    radius: float,
    size: tuple[int, int],
    taken: list[tuple[float, float, float, float]],
) -> None:
    """Write beside a ring where nothing is written yet: right, left, below, above."""
    (x, y), (w, h) = place, extent
    gap = 1.6 * radius
    tries = [
        (x + gap, y - h / 2),
        (x - gap - w, y - h / 2),
        (x - w / 2, y + gap),
        (x - w / 2, y - gap - h),
    ]
    for left, top in tries:
        box = (left, top, left + w, top + h)
        clear = all(
            box[2] < other[0] or box[0] > other[2] or box[3] < other[1] or box[1] > other[3]
            for other in taken
        )
        if clear and left >= 0 and top >= 0 and box[2] <= size[0] and box[3] <= size[1]:
            break
    taken.append(box)
    draw.text((left, top), words, font=font, fill=LINE, stroke_width=1, stroke_fill=SHADE)
