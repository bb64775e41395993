"""The traced look: what each light does alone, on film, at spots and on receptors.

Nothing here loads the tracer; only the engine's worker process does.
"""

from render.trace.choice import (
    EngineChoice,
    EngineVerdict,
    choose_engine,
    engine_report,
)
from render.trace.engine import Engine
from render.trace.frames import LightFrame, Progress, Quality, frame_names, light_frames
from render.trace.receptors import ReceptorReading, receptor_readings
from render.trace.spots import Spot, SpotReading, spots
from render.trace.stage import CARD_REFLECTANCE, Dress
from render.trace.store import FrameStore

__all__ = [
    "CARD_REFLECTANCE",
    "Dress",
    "Engine",
    "EngineChoice",
    "EngineVerdict",
    "FrameStore",
    "LightFrame",
    "Progress",
    "Quality",
    "ReceptorReading",
    "Spot",
    "SpotReading",
    "choose_engine",
    "engine_report",
    "frame_names",
    "light_frames",
    "receptor_readings",
    "spots",
]
