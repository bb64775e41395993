"""The traced look: what each light does alone, on film, at spots and on receptors.

Nothing here loads the tracer; only the engine's worker process does.
"""

from render.trace.choice import (
    EngineChoice,
    EngineVerdict,
    choose_engine,
    engine_report,
)
from render.trace.desk import Order
from render.trace.engine import Engine
from render.trace.frames import LightFrame, Progress, Quality, frame_names
from render.trace.orders import chunks_missing, light_frames, many_frames
from render.trace.receptors import ReceptorReading, receptor_readings
from render.trace.spots import Spot, SpotReading, spots
from render.trace.stage import CARD_REFLECTANCE, Dress
from render.trace.store import FrameStore
from render.trace.tasks import Crew, Readers, Task

__all__ = [
    "CARD_REFLECTANCE",
    "Crew",
    "Dress",
    "Engine",
    "EngineChoice",
    "EngineVerdict",
    "FrameStore",
    "LightFrame",
    "Order",
    "Progress",
    "Quality",
    "Readers",
    "ReceptorReading",
    "Spot",
    "SpotReading",
    "Task",
    "choose_engine",
    "chunks_missing",
    "engine_report",
    "frame_names",
    "light_frames",
    "many_frames",
    "receptor_readings",
    "spots",
]
