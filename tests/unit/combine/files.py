"""Small pictures on disk for the tests of combining."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

from render.combine.making import Made, make
from render.combine.recipe import Recipe


def png(file: Path, codes: Any, **said: Any) -> Path:
    """An 8-bit PNG of codes (h, w, 3), (h, w) or with alpha."""
    Image.fromarray(np.asarray(codes, np.uint8)).save(file, **said)
    return file


def tiff(file: Path, values: NDArray[Any], **said: Any) -> Path:
    """An RGB TIFF of values (h, w, 3) as deep as they are."""
    tifffile.imwrite(file, values, photometric="rgb", **said)
    return file


def flat(code: float, size: tuple[int, int] = (12, 9)) -> NDArray[np.uint8]:
    """Codes (h, w, 3) of one grey; size is width, height."""
    return np.full((size[1], size[0], 3), code, np.uint8)


def combined(folder: Path, look: str, *elements: dict[str, Any], out: str = "result.png") -> Made:
    """The result of a recipe given as tables."""
    tables = {"look": look, "out": out, "element": list(elements)}
    return make(Recipe.model_validate(tables), folder)
