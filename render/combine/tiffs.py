"""Read TIFF of 1, 8 or 16 bits, or floating point, as it stands."""

from __future__ import annotations

import logging
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray

from render.combine.raw import Raw, check_size, refused
from render.errors import PhotoError

PROFILE, ORIENTATION = 34675, 274  # tags of the ICC profile and of how the camera was held
WHITE_IS_ZERO, GREY, RGB, PALETTE, CMYK, YCBCR, LAB, SENSOR = 0, 1, 2, 3, 5, 6, 8, 32803
KINDS = {CMYK: "CMYK colours", LAB: "Lab colours", SENSOR: "a camera's raw file"}
ASSOCIATED, UNASSOCIATED = 1, 2  # what an extra channel is
DEPTHS = ("bool", "uint8", "uint16", "float16", "float32")
MOST_CHANNELS = 8  # colours, alpha and some selections
MOST_PAGES = 16  # that are looked at: a broken file may lead from page to page for ever
CHANNELS = {WHITE_IS_ZERO: 1, GREY: 1, RGB: 3, PALETTE: 1, YCBCR: 3}

logging.getLogger("tifffile").setLevel(logging.CRITICAL)  # what is wrong is said in one sentence


def read_tiff(file: Path) -> Raw:
    """Values of a TIFF. Raises PhotoError for what cannot be combined."""
    try:
        with tifffile.TiffFile(file) as opened:
            page = opened.pages.first
            check_size(file, page.imagewidth, page.imagelength)
            _check(file, opened, page)
            values = page.asarray()
            return _raw(page, values)
    except (PhotoError, OSError):
        raise
    except Exception:  # a broken tag can bring any other: each is read as it is needed
        raise refused(file, "a broken TIFF", "a whole file") from None


def _check(file: Path, opened: tifffile.TiffFile, page: Any) -> None:
    """Refuse kinds that are not understood, and files that end too soon."""
    if page.samplesperpixel > MOST_CHANNELS:
        raise refused(file, f"{page.samplesperpixel} channels")
    looked = islice(opened.pages, MOST_PAGES)
    same = [each for each in looked if each.shape == page.shape]
    if len(same) > 1:
        raise refused(file, f"{len(same)} pictures in one file")
    ends = (at + count for at, count in zip(page.dataoffsets, page.databytecounts, strict=True))
    if max(ends, default=0) > file.stat().st_size:
        raise refused(file, "a TIFF that ends too soon", "a whole file")
    kind = int(page.photometric)
    if kind not in CHANNELS or page.imagedepth > 1:
        found = KINDS.get(kind, "colours of another kind")
        raise refused(file, found, "RGB or grey: export it as RGB")
    if str(page.dtype) not in DEPTHS or page.bitspersample not in (1, 8, 16, 32):
        found = f"{page.bitspersample} bits a channel ({page.dtype})"
        raise refused(file, found, "8 or 16 bits a channel, or floating point of 16 or 32")
    if page.samplesperpixel < CHANNELS[kind]:
        raise refused(file, f"{page.samplesperpixel} channels")


def _raw(page: Any, values: NDArray[Any]) -> Raw:
    if page.planarconfig == 2 and values.ndim == 3:
        values = np.moveaxis(values, 0, -1)
    values = values.reshape(page.imagelength, page.imagewidth, -1)
    kind, notes = int(page.photometric), []
    if values.dtype == bool or page.bitspersample == 1:
        values = values.astype(np.uint8) * np.uint8(255)
    elif values.dtype.kind == "f":
        values = values.astype(np.float32)
    count = CHANNELS[kind]
    alpha, associated = None, False
    if values.shape[-1] > count:
        meaning = int(page.extrasamples[0]) if page.extrasamples else 0
        if meaning in (ASSOCIATED, UNASSOCIATED):
            top = float(np.iinfo(values.dtype).max) if values.dtype.kind == "u" else 1.0
            alpha = values[..., count].astype(np.float32) / np.float32(top)
            associated = meaning == ASSOCIATED
        if meaning not in (ASSOCIATED, UNASSOCIATED) or values.shape[-1] > count + 1:
            notes.append("a further channel is left out")
    values = values[..., :count]
    if kind == WHITE_IS_ZERO and values.dtype.kind == "u":
        values = np.iinfo(values.dtype).max - values
    if kind == PALETTE:
        values = np.moveaxis(page.colormap, 0, -1)[values[..., 0]].astype(np.uint16)
        notes.append("palette colours are taken as RGB")
    tags = page.tags
    return Raw(
        values,
        alpha,
        associated,
        profile=bytes(tags[PROFILE].value) if PROFILE in tags else b"",
        orientation=int(tags[ORIENTATION].value) if ORIENTATION in tags else 1,
        notes=tuple(notes),
    )
