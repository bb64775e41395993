"""What a series will cost before anything is placed: light frames, time and disk, by estimate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from render.series.cells import Cell
from render.series.frames import BYTES_PER_PIXEL
from render.studio.camera import Camera
from render.trace import Quality
from render.trace.frames import SAMPLES

# Measured as CPU time over two cores, nothing kept but sitters: seven of the bundled lessons at
# draft and 240 px, one at proof and 320 px; all within a third.
SAMPLES_PER_S = 0.8e6
SECONDS_PER_CELL = 1.0  # placing and metering, with what the room gives back
SECONDS_TO_START = 10.0

# What a light frame does not show: it is the picture of one light per lumen second.
OF_LIGHT = ("power", "luminous_energy_lm_s", "gel", "nd", "colour_temperature_k", "on", "fixed")
OF_STAND = ("role", "stand", "boom", "bag_kg", "leg_radius_m")
OF_CAMERA = ("iso_speed", "shutter_s", "sync_s", "white_balance_k")
OF_SCENE = ("title", "kit", "present", "meter", "point", "wanted", "light")


@dataclass(frozen=True, slots=True)
class Estimate:
    """Cost of a series with nothing kept of it yet."""

    cells: int
    frames: int  # different ones
    seconds: float
    bytes: int


def estimate(cells: Sequence[Cell], quality: Quality | int, long_side_px: int) -> Estimate:
    """Count light frames by what the scene files say, and tell time by measured rates.

    A frame is counted once for cells that differ in nothing it shows, a lamp that another lamp
    hides left out; the lights of a cell that are traced together take the time of one.
    """
    known: set[str] = set()
    samples = quality if isinstance(quality, int) else SAMPLES[quality]
    seconds, size = SECONDS_TO_START + SECONDS_PER_CELL * len(cells), 0
    for cell in cells:
        pixels = _pixels(cell.setup.scene.camera or Camera(), long_side_px)
        new = _frames(cell) - known
        known |= new
        size += len(new) * pixels * BYTES_PER_PIXEL
        seconds += bool(new) * pixels * samples / SAMPLES_PER_S
    return Estimate(len(cells), len(known), seconds, size)


def _frames(cell: Cell) -> set[str]:
    """What each light frame of a cell hangs on, as text."""
    scene = cell.setup.scene
    around: dict[str, Any] = scene.model_dump(exclude=set(OF_SCENE))
    if scene.camera is not None:
        around["camera"] = scene.camera.model_dump(exclude=set(OF_CAMERA))
    lights = {name: light for name, light in scene.light.items() if light.on}
    own = {name: light.model_dump(exclude={*OF_LIGHT, *OF_STAND}) for name, light in lights.items()}
    return {f"{around} {name} {light}" for name, light in own.items()}


def _pixels(camera: Camera, long_side_px: int) -> int:
    short, long = sorted(float(side) for side in camera.crop.split(":"))
    return round(long_side_px**2 * short / long)
