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
    caption: str
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
        yield Plate(name, f"{name}, {sitter.about}; skin {sitter.skin.reflectance:g}", made)


def sheet(plates: list[Plate], columns: int) -> Image.Image:
    """The pictures side by side in rows, each with its caption underneath."""
    width, height = (max(p.look.picture.linear.shape[k] for p in plates) for k in (1, 0))
    gap, line = max(4, width // 60), max(14, width // 16)
    step_x, step_y = width + gap, height + gap + line
    rows = -(-len(plates) // columns)
    page = Image.new("RGB", (columns * step_x + gap, rows * step_y + gap), GROUND)
    draw = ImageDraw.Draw(page)
    for k, plate in enumerate(plates):
        left, top = gap + k % columns * step_x, gap + k // columns * step_y
        pixels = np.round(255 * codes(plate.look.picture.linear)).astype(np.uint8)
        page.paste(Image.fromarray(pixels), (left, top))
        place = (left + width / 2, top + height + line / 2)
        draw.text(
            place, plate.caption, font=_font(plate.caption, width, line), fill=INK, anchor="mm"
        )
    return page


def _font(words: str, width: int, line: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The largest type in which the words fit under a picture [px]."""
    for size in range(round(0.62 * line), 6, -1):
        font = ImageFont.load_default(size=size)
        if font.getlength(words) <= width:
            break
    return font
