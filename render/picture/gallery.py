"""One sheet with the whole cast, each sitter in the same light."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from render.picture.sheets import Plate
from render.picture.take import look
from render.scenefile import Setup
from render.sitter import CAST
from render.studio.sitter import Sitter
from render.trace import Crew, Engine, FrameStore, Progress, Quality

POSE = ("eyes_height_m", "turn_deg", "head_turn_deg", "head_nod_deg", "head_tilt_deg", "gaze")


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
    engine: Engine | Crew,
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
