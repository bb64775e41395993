"""Pictures of one sitter in the light of one modifier after the other, with a look into the eye."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from render.layout import place
from render.picture.closer import catchlight_layout, face_layout
from render.picture.develop import Picture
from render.picture.sheets import Plate
from render.picture.take import Look, exposure_of, size_px, take
from render.scenefile import Setup
from render.trace import Engine, FrameStore, Progress, Quality
from render.trace.frames import SAMPLES

EYE_SHARE = 0.34  # side of the eye's picture, of the width of the sitter's
EYE_SAMPLES = 4  # times as many as in the picture: a mirror image is grainier than skin


@dataclass(frozen=True, slots=True)
class Sitting:
    """One picture of the sheet to be made."""

    name: str
    caption: tuple[str, ...]
    setup: Setup
    lift_stops: float = 0.0  # given to the picture beyond the exposure set on the camera


def modifier_plates(
    sittings: Iterable[Sitting],
    *,
    quality: Quality | int,
    long_side_px: int,
    engine: Engine,
    close: bool = False,
    store: FrameStore | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Iterable[Plate]:
    """Trace the light frames that are missing of each picture and of its eye, one by one.

    close : the face alone instead of the scene's frame
    Raises SceneError without a camera, KitError, MeshError, EngineError.
    """
    store = store or FrameStore()
    for sitting in sittings:
        exposure, layout = exposure_of(sitting.setup), place(sitting.setup)
        layout = face_layout(layout) if close else layout
        assert layout.view is not None  # exposure_of has asked for a camera
        made = take(
            layout,
            exposure,
            quality=quality,
            long_side_px=long_side_px,
            engine=engine,
            store=store,
            progress=progress,
        )
        made = replace(made, picture=_lifted(made.picture, sitting.lift_stops))
        at_eye, eye = catchlight_layout(layout), None
        if at_eye is not None:
            samples = SAMPLES[quality] if isinstance(quality, str) else quality
            side = max(1, round(EYE_SHARE * size_px(layout.view, long_side_px)[0]))
            seen: Look = take(
                at_eye,
                exposure,
                quality=EYE_SAMPLES * samples,
                long_side_px=side,
                engine=engine,
                store=store,
                progress=progress,
            )
            eye = _lifted(seen.picture, sitting.lift_stops)
        yield Plate(sitting.name, sitting.caption, made, eye)


def _lifted(picture: Picture, lift_stops: float) -> Picture:
    gain = np.float32(2.0**lift_stops)
    return replace(
        picture, linear=gain * picture.linear, standard_error=gain * picture.standard_error
    )
