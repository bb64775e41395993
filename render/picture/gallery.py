"""One sheet with the whole cast, each sitter in the same light."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from render.picture.develop import codes
from render.picture.take import Look, look
from render.scenefile import Setup
from render.sitter import CAST
from render.studio.sitter import Sitter
from render.trace import Engine, FrameStore, Progress, Quality

GROUND, INK = (24, 24, 24), (205, 200, 192)
POSE = ("eyes_height_m", "turn_deg", "head_turn_deg", "head_nod_deg", "head_tilt_deg", "gaze")


@dataclass(frozen=True, slots=True)
class Plate:
    """One picture of the sheet and what is written under it."""

    name: str
    caption: tuple[str, str]  # two lines
    look: Look


def sitting(setup: Setup, name: str) -> Setup:
    """The set-up with another sitter, as that sitter comes, posed as the scene says."""
    posed = setup.scene.sitter or Sitter()
    pose = {key: getattr(posed, key) for key in POSE}
    sitter = Sitter(model=name, **pose)
    return replace(setup, scene=setup.scene.model_copy(update={"sitter": sitter}))


def cast_looks(
    setup: Setup,
    *,
    quality: Quality | int,
    long_side_px: int,
    engine: Engine,
    store: FrameStore | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Iterable[Plate]:
    """Every sitter of the cast in the scene's light and pose, one after the other."""
    for name, sitter in CAST.items():
        made = look(
            sitting(setup, name),
            quality=quality,
            long_side_px=long_side_px,
            engine=engine,
            store=store,
            progress=progress,
        )
        who, _, rest = sitter.about.partition(", ")
        yield Plate(name, (f"{name}, {who}, skin {sitter.skin.reflectance:g}", rest), made)


def sheet(plates: list[Plate], columns: int) -> Image.Image:
    """The pictures side by side in rows, each with its caption underneath."""
    width, height = (max(p.look.picture.linear.shape[k] for p in plates) for k in (1, 0))
    gap, line = max(4, width // 60), max(24, width // 9)
    words = [text for plate in plates for text in plate.caption]
    font = _font(words, width, 0.4 * line)
    step_x, step_y = width + gap, height + gap + line
    rows = -(-len(plates) // columns)
    page = Image.new("RGB", (columns * step_x + gap, rows * step_y + gap), GROUND)
    draw = ImageDraw.Draw(page)
    for k, plate in enumerate(plates):
        left, top = gap + k % columns * step_x, gap + k // columns * step_y
        pixels = np.round(255 * codes(plate.look.picture.linear)).astype(np.uint8)
        page.paste(Image.fromarray(pixels), (left, top))
        place = (left + width / 2, top + height + line / 2)
        caption = "\n".join(plate.caption)
        draw.multiline_text(place, caption, font=font, fill=INK, anchor="mm", align="center")
    return page


def _font(
    lines: list[str], width: int, tallest: float
) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The largest type in which every line fits under a picture [px]."""
    for size in range(round(tallest), 5, -1):
        font = ImageFont.load_default(size=size)
        if max(font.getlength(line) for line in lines) <= width:
            break
    return font
