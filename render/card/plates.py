"""The pictures of the card, small: look and set in 3D; or one sentence why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.card.tape import panels
from render.card.words import room_box
from render.errors import EngineError, ViewError
from render.layout import Layout
from render.picture import look
from render.picture.develop import codes
from render.plan.checks.holding import holders
from render.scenefile import Setup
from render.setview import set_view
from render.studio.camera import Camera

MM_PER_INCH = 25.4
WIDE_MM, TALL_MM = 60.0, 75.0  # the room that a picture may take: 4:5 fills it
LOOK, VIEW = "THE LOOK, predicted", "THE SET, numbered as on the plan"
VIEW_TALL_MM = 45.0
MARK_MM, PUSHES = 3.8, 20  # marks are kept so far apart, in so many passes
DPI = 200  # of the look; photographs in print have 200 to 300, common practice


@dataclass(frozen=True, slots=True)
class Plate:
    """A picture with its caption; without pixels the caption says why."""

    title: str
    caption: str
    pixels: NDArray[np.uint8] | None = None  # (h, w, 3) sRGB
    marks: tuple[tuple[str, float, float], ...] = ()  # mark, x right and y down, 0 to 1


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
    words = f"{exposure_words(camera)}. Traced as {_said(quality)}: "
    sure = f"a pixel is good to {made.error_stops:.2f} stop"
    if np.isnan(made.error_stops):
        sure = "the whole picture is black"
    return Plate(LOOK, f"{words}{sure}.", pixels)


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


def drawn_set(setup: Setup, layout: Layout) -> Plate:
    """The set from a raised corner; where nothing can be drawn in 3D, one sentence."""
    size = (_px(WIDE_MM), _px(VIEW_TALL_MM))
    try:
        drawn = set_view(layout, size, holders(setup, layout))
    except ViewError as problem:
        return Plate(VIEW, f"No view in 3D: {problem}.")
    named = {f"light.{front.name}": str(i + 1) for i, front in enumerate(layout.fronts)}
    for letter, _, sheet in panels(layout):
        named.setdefault(f"panel.{sheet.name}", letter)
    places = {mark: drawn.places_px[name] for name, mark in named.items()}
    apart = _apart({mark: (x / size[0], y / size[1]) for mark, (x, y) in places.items()})
    words = "Seen from a corner of the room; the walls in the way are left out."
    if room_box(layout) is None:
        words = "Seen from above the camera's side."
    return Plate(VIEW, words, drawn.picture, apart)


def _px(length_mm: float) -> int:
    return round(length_mm / MM_PER_INCH * DPI)


def _apart(places: dict[str, tuple[float, float]]) -> tuple[tuple[str, float, float], ...]:
    """Marks moved so far that each can be read; shares of the picture in and out."""
    size = np.array([WIDE_MM, VIEW_TALL_MM])
    at = np.array(list(places.values())).reshape(-1, 2) * size
    for _ in range(PUSHES):
        for i in range(len(at)):
            for j in range(i):
                gap = at[i] - at[j]
                length = float(np.linalg.norm(gap))
                if length < MARK_MM:
                    way = gap / length if length > 0 else np.array([1.0, 0.0])
                    push = 0.5 * (MARK_MM - length) * way
                    at[i], at[j] = at[i] + push, at[j] - push
    shares = np.clip(at / size, 0.03, 0.97)
    return tuple((mark, float(x), float(y)) for mark, (x, y) in zip(places, shares, strict=True))
