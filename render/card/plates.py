"""The pictures of the card: the predicted look, small; or one sentence why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.errors import EngineError
from render.picture import look
from render.picture.develop import codes
from render.scenefile import Setup
from render.studio.camera import Camera

MM_PER_INCH = 25.4
WIDE_MM, TALL_MM = 60.0, 75.0  # the room that a picture may take: 4:5 fills it
DPI = 200  # of the look; photographs in print have 200 to 300, common practice


@dataclass(frozen=True, slots=True)
class Plate:
    """A picture with its caption; without pixels the caption says why."""

    title: str
    caption: str
    pixels: NDArray[np.uint8] | None = None  # (h, w, 3) sRGB
    marks: tuple[tuple[str, float, float], ...] = ()  # mark, x right and y down, 0 to 1


LOOK = "THE LOOK, predicted"


def predicted_look(
    setup: Setup,
    *,
    quality: str | int = "draft",
    engine: str = "auto",
    progress: Callable[..., None] | None = None,
) -> Plate:
    """The look from light frames; those that are finished already are taken as they are.

    quality : as of `look`
    Raises SceneError, KitError, MeshError and, of a named engine, EngineError.
    """
    camera = setup.scene.camera
    if camera is None:
        return Plate(LOOK, "No look: the scene has no camera.")
    if not any(light.on for light in setup.scene.light.values()):
        return Plate(LOOK, "No look: no light of the scene is on.")
    try:
        made = look(
            setup,
            quality=quality,  # type: ignore[arg-type]
            long_side_px=_long_side_px(camera),
            engine=engine,
            progress=progress,
        )
    except EngineError as problem:
        if engine != "auto":
            raise
        return Plate(LOOK, f"No look: {problem}.")
    pixels = np.round(255 * codes(made.picture.linear)).astype(np.uint8)
    words = f"{exposure_words(camera)}. Traced as {_said(quality)}: a pixel is good to "
    return Plate(LOOK, f"{words}{made.error_stops:.2f} stop.", pixels)


def _said(quality: str | int) -> str:
    return quality if isinstance(quality, str) else f"{quality} samples"


def _long_side_px(camera: Camera) -> int:
    """Longer side [px] of a picture that fills its room on the sheet at the stated resolution."""
    short, long = (float(side) for side in camera.crop.split(":"))
    share = short / long
    if camera.frame == "upright":
        long_mm = min(TALL_MM, WIDE_MM / share)
    else:
        long_mm = min(WIDE_MM, TALL_MM / share)
    return round(long_mm / MM_PER_INCH * DPI)


def exposure_words(camera: Camera) -> str:
    """What is set on the camera: "f/8, 1/125 s, ISO 100"."""
    time = f"1/{1 / camera.shutter_s:.0f}" if camera.shutter_s < 1 else f"{camera.shutter_s:g}"
    return f"f/{camera.f_number:g}, {time} s, ISO {camera.iso_speed:g}"
