"""What a picture file holds before its colours are understood, and which files are refused."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import PhotoError

MOST_PIXELS = 160_000_000  # a medium-format back has 150 million; 2 GB as linear light
ACCEPTED = "PNG, JPEG, TIFF or EXR, one picture a file, RGB or grey"


@dataclass(frozen=True, slots=True)
class Raw:
    """Values of a file as they stand there."""

    values: NDArray[Any]  # (h, w, 1 or 3) uint8, uint16 or float32
    alpha: NDArray[np.float32] | None = None  # (h, w) 0..1
    associated: bool = False  # its colours are multiplied by alpha already
    profile: bytes = b""  # ICC
    space: str = ""  # said otherwise than by a profile: "opRGB"
    primaries: tuple[float, ...] = ()  # of an EXR: x, y of red, green, blue, white
    orientation: int = 1  # Exif
    notes: tuple[str, ...] = ()  # what was converted or left out

    @property
    def bits(self) -> int:
        """Bits of a channel; 0 for floating point."""
        return 8 * self.values.dtype.itemsize if self.values.dtype.kind == "u" else 0


def refused(file: Path, found: str, accepted: str = ACCEPTED) -> PhotoError:
    """The error for a file that cannot be combined."""
    return PhotoError(file, "", found, f"accepted: {accepted}")


def check_size(file: Path, width: int, height: int) -> None:
    """Refuse pictures without pixels, or with more than memory will hold, before decoding."""
    if width < 1 or height < 1:
        raise refused(file, f"{width} x {height} pixels")
    if width * height > MOST_PIXELS:
        raise refused(
            file, f"{width} x {height} pixels", f"at most {MOST_PIXELS // 10**6} million pixels"
        )


def opaque(alpha: NDArray[np.float32]) -> bool:
    """Whether an alpha channel hides nothing."""
    return bool((alpha >= 1).all())
