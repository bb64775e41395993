"""Light frames: the picture that each light makes alone, per lumen second, and its stored name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.emission.front import WHITE
from render.errors import EngineError
from render.layout.placed import View
from render.trace.bystanders import bystanders
from render.trace.choice import tracer_version
from render.trace.digest import digest
from render.trace.stage import SkinModel, Stage

Quality = Literal["draft", "proof", "final"]
# A quality is meant for a standard error of the usual (median) pixel [stops]. So many samples do it
# in the bundled portraits, measured; the count is fixed so that the work is known beforehand.
MEANT_STOPS: dict[Quality, float] = {"draft": 0.2, "proof": 0.1, "final": 0.05}
SAMPLES: dict[Quality, int] = {"draft": 16, "proof": 64, "final": 256}
# Light goes under the skin where there are samples enough; every other picture, one of so many
# samples too, goes on from a draft's.
SKIN: dict[Quality, SkinModel] = {"draft": "surface", "proof": "surface", "final": "under"}
UNDER_ON, PLAIN = "llvm", "scalar"
STRAND_SHARE: dict[Quality, float] = {"draft": 0.4, "proof": 0.4, "final": 1.0}
MODEL_VERSION = 7  # goes up when nodes, fronts or light paths change what a frame shows


@dataclass(frozen=True, slots=True)
class LightFrame:
    """What one light does alone, per lumen second that leaves its cloth."""

    name: str
    mean: NDArray[np.float32]  # (h, w, 3) luminance·time, linear sRGB [cd·s/m² per lm·s]
    variance: NDArray[np.float32]  # (h, w) of the mean's luminance
    samples: int  # per pixel


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the work on the missing frames is."""

    done_chunks: int
    all_chunks: int
    seconds_used: float
    seconds_left: float


def in_quality(stage: Stage, quality: Quality | int, engine_name: str) -> Stage:
    """The stage with the skin and the strands that a quality shows.

    Only the compiled engine of the processor lets light go under the skin: the plain one has stock
    parts only, a graphics card traces no two scenes at once. They keep to the surface. The plain
    one does not look into dust either: raises EngineError.
    """
    if engine_name == PLAIN and any(each.kind == "dust" for each in stage.elements):
        raise EngineError("the scalar engine has no dust (choose cuda or llvm, or other elements)")
    name: Quality = quality if isinstance(quality, str) else "draft"
    skin: SkinModel = SKIN[name] if engine_name == UNDER_ON else "surface"
    return replace(stage, skin=skin, strand_share=STRAND_SHARE[name])


def frame_names(
    stage: Stage, view: View, size_px: tuple[int, int], engine_name: str
) -> dict[str, str]:
    """Stored name of each light's frame: a digest of everything that changes the picture."""
    fronts, others = {f.name: f for f in stage.fronts}, bystanders(stage, view)
    return {
        light: _frame_name(stage, view, size_px, engine_name, (fronts[light], *others[light]))
        for light in stage.emitting
    }


def _frame_name(
    stage: Stage,
    view: View,
    size_px: tuple[int, int],
    engine_name: str,
    fronts: tuple[Front, ...],
) -> str:
    """fronts: the light's own, then those that may change its frame."""
    body = stage.body and (stage.body.surfaces, stage.body.strands)
    thrown = (tuple(replace(e, name="") for e in stage.elements),) if stage.elements else ()
    return digest(
        (
            tuple(_optics(front) for front in fronts),
            (stage.sheets, body, stage.dress, stage.max_depth),
            (stage.skin, stage.strand_share),
            (view, size_px),
            (engine_name, tracer_version(), MODEL_VERSION),
            *thrown,
        )
    )


def _optics(front: Front) -> Front:
    """A front without what a picture per lumen second does not show."""
    return replace(front, name="", luminous_energy_lm_s=1.0, colour=WHITE)
