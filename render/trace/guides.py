"""Guides for the denoiser: a view's colours and directions without light, traced once and kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import cloth, housing
from render.layout.placed import View
from render.trace.bystanders import in_view
from render.trace.choice import tracer_version
from render.trace.desk import Order, wanted
from render.trace.digest import digest
from render.trace.stage import Stage
from render.trace.store import FrameStore
from render.trace.tasks import Readers

Floats = NDArray[np.float32]

CHUNKS, CHUNK_SAMPLES = 4, 8  # of each pixel; hair needs some thirty before its edges are smooth
GUIDES_VERSION = 1  # goes up when a guide of the same view shows something else


@dataclass(frozen=True, slots=True)
class Guides:
    """A view without light."""

    albedo: Floats  # (h, w, 3) diffuse reflectance, linear sRGB, 0 to 1
    normal: Floats  # (h, w, 3) in the room


def guides(order: Order, store: FrameStore, engine: Readers) -> Guides:
    """The guides of the view that an order's light frames show.

    They hang on what is in the picture, not on light or power, and are stored like frames.
    raises : EngineError if the engine fails
    """
    stage, view, _, _ = wanted(order, engine.name)
    width, height = order.size_px
    seen = _shown(stage, view)
    name = digest(("guides", GUIDES_VERSION, tracer_version(), view, order.size_px, seen))
    film = (store.arrays(name) or {}).get("film", np.zeros(0))
    if film.shape != (height, width, 6) or film.dtype != np.float32:
        told = {"view": view, "size_px": order.size_px, "samples": CHUNK_SAMPLES}
        parts = engine.read("guides", stage, [told | {"seed": k} for k in range(CHUNKS)])
        film = np.stack(parts).mean(0, dtype=np.float32)
        store.put(name, {"film": film})
    albedo = np.clip(film[..., :3], 0, 1)
    return Guides(np.ascontiguousarray(albedo), np.ascontiguousarray(film[..., 3:]))


def _shown(stage: Stage, view: View) -> tuple[object, ...]:
    """All that can show in the picture of a stage."""
    lamps = tuple((cloth(front)[0], housing(front)[0]) for front in in_view(stage, view))
    body = stage.body and (stage.body.surfaces, stage.body.strands)
    return (lamps, stage.sheets, stage.elements, body, stage.dress, stage.strand_share)
