"""Pictures of the folder as a browser mixes them: linear light, reduced, with what is black."""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.combine.black import Black, black_of, element_from
from render.combine.colour import Pixels, brightest, light_of
from render.combine.photo import Photo, read_photo
from render.combine.placing import reduced
from render.combine.plates import check_same_size, measured_plate, subtracted
from render.page.album import picture

LONG_SIDE_PX = 1080  # of what the browser gets: more than the plate on the page shows
MOST_KEPT = 12  # pictures, 16 MB each
MOST_LIGHT = 60000.0  # near the end of half precision
# Gains [stops] for which the share over the limit is told, as fine as the page turns them.
GAIN_STEP, MOST_GAIN = 0.1, 10.0


@dataclass(frozen=True, slots=True)
class Small:
    """A picture as the browser gets it, and what is told of it."""

    planes: NDArray[np.float16]  # (h, w, 5): light, what its file hides, the brightest of a place
    told: dict[str, Any]


class Smalls:
    """The pictures that were asked for last; one is read at a time, for it may fill the memory."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Any, Small] = OrderedDict()
        self.lock = threading.Lock()  # whoever reads whole pictures takes it

    def small(self, folder: Path, name: str, plates: list[str], limit_code: float) -> Small:
        """A picture with its plates taken out; raises PhotoError."""
        files = [picture(folder, each) for each in (name, *plates)]
        with self.lock:
            key = (limit_code, *(_stamp(file) for file in files))
            found = self._kept.pop(key, None) or _small(files, limit_code)
            self._kept[key] = found
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
            return found


def _stamp(file: Path) -> tuple[str, int, int]:
    told = file.stat()
    return file.name, told.st_mtime_ns, told.st_size


def _small(files: list[Path], limit_code: float) -> Small:
    photo = read_photo(files[0])
    light, below, plate_black = photo.linear, None, None
    if files[1:]:
        plate = measured_plate(_plate(each, photo) for each in files[1:])
        light, taken = subtracted(photo, plate)
        below, plate_black = taken.below_share, black_of(plate.light, limit_code)
    told = {
        "name": files[0].name,
        "width_px": photo.size[0],
        "height_px": photo.size[1],
        "colour": photo.colour,
        "notes": list(photo.notes),
        "full_share": photo.full,
        "alpha": photo.alpha is not None,
        "below_plate_share": below,
        "black": _black(light, limit_code, plate_black),
    }
    return Small(_planes(light, photo.alpha), told)


def _plate(file: Path, photo: Photo) -> Photo:
    plate = read_photo(file)
    check_same_size(plate, photo)
    return plate


def _black(light: Pixels, limit_code: float, plate: Black | None) -> dict[str, Any]:
    """Black of a picture at gain 0, and the share over the limit for every gain."""
    found = black_of(light, limit_code)
    gains = np.arange(round(2 * MOST_GAIN / GAIN_STEP) + 1) * GAIN_STEP - MOST_GAIN
    # Rounded as in a file of 8 bits, as `black_of` does.
    edge = light_of(math.floor(limit_code) + 0.5)
    limits = edge / 2.0**gains
    peaks = np.sort(brightest(light), axis=None)
    over = 1 - np.searchsorted(peaks, limits.astype(np.float32), side="right") / peaks.size
    return {
        "limit_code": limit_code,
        "limit_light": light_of(limit_code),
        "over_light": edge,
        "backdrop_light": light_of(found.backdrop_code),
        "rim_light": light_of(found.rim_code),
        "element_from_light": None if plate is None else element_from(plate),
        "over": {"from": -MOST_GAIN, "step": GAIN_STEP, "shares": over.round(5).tolist()},
    }


def _planes(light: Pixels, alpha: Pixels | None) -> NDArray[np.float16]:
    """Light, alpha and the brightest channel of each place (h, w, 5), no larger than it shows."""
    height, width = light.shape[:2]
    scale = min(1.0, LONG_SIDE_PX / max(height, width))
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    hides = np.ones((height, width), np.float32) if alpha is None else alpha
    seen = reduced(np.concatenate([light, hides[..., None]], -1), *size)
    peaks = _peaks(brightest(light), size)
    planes = np.concatenate([seen, peaks[..., None]], -1)
    halves: NDArray[np.float16] = np.clip(planes, -MOST_LIGHT, MOST_LIGHT).astype(np.float16)
    return halves


def _peaks(peak: Pixels, size: tuple[int, int]) -> Pixels:
    """The brightest pixel (h, w) of every place, so that fine dirt is not averaged away."""
    down = np.arange(size[1]) * peak.shape[0] // size[1]
    across = np.arange(size[0]) * peak.shape[1] // size[0]
    rows = np.maximum.reduceat(peak, down, axis=0)
    return np.asarray(np.maximum.reduceat(rows, across, axis=1), np.float32)
