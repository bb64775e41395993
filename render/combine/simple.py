"""Read PNG and JPEG as they stand, with profile, orientation and transparency."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from render.combine.raw import Raw, check_size, refused

ORIENTATION, EXIF_IFD, INTEROP_IFD, INTEROP_INDEX = 0x0112, 0x8769, 0xA005, 1  # Exif tags
OP_RGB = "R03"  # Exif interoperability index of the optional colour space, as cameras write it
DEPTH_AT, COLOUR_AT = 24, 25  # bytes of a PNG's header
GREY_MODES, COLOUR_MODES = ("1", "L"), ("RGB",)
ALPHA_MODES = ("LA", "RGBA")


def read_simple(file: Path, kind: str) -> Raw:
    """Values of a PNG or JPEG file. Raises PhotoError for what cannot be combined."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # large pictures are measured here instead
        try:
            with Image.open(file, formats=(kind,)) as image:
                check_size(file, *image.size)
                return _read(file, image, kind)
        except Image.DecompressionBombError:
            raise refused(file, "more pixels than any camera has") from None
        except UnidentifiedImageError:
            raise refused(file, f"a broken {kind}", "a whole file") from None
        except (OSError, ValueError, SyntaxError, EOFError, RuntimeError) as problem:
            raise refused(file, f"a broken {kind} ({_reason(problem)})", "a whole file") from None


def _reason(problem: BaseException) -> str:
    return (str(problem).splitlines() or ["it ends too soon"])[0].lower()


def _read(file: Path, image: Image.Image, kind: str) -> Raw:
    frames = getattr(image, "n_frames", 1)
    notes: tuple[str, ...] = ()
    if kind == "PNG" and frames > 1:
        raise refused(file, f"an animation of {frames} pictures")
    if frames > 1:  # cameras put a small second picture into a JPEG
        notes += ("the first of several pictures in the file is taken",)
    exif = image.getexif()
    said: dict[str, Any] = {
        "profile": image.info.get("icc_profile") or b"",
        "orientation": int(exif.get(ORIENTATION, 1) or 1),
        "space": "opRGB" if _index(exif).startswith(OP_RGB) else "",
    }
    if kind == "PNG" and file.read_bytes()[DEPTH_AT] == 16:
        return _deep(file, said)
    mode = image.mode
    if mode in ("CMYK", "LAB", "YCbCr"):
        raise refused(file, f"{mode} colours", "RGB or grey: export it as RGB")
    if mode == "P" or "transparency" in image.info:
        notes += ("palette colours are taken as RGB",) if mode == "P" else ()
        image = image.convert("RGBA" if "transparency" in image.info else "RGB")
    elif mode == "1":
        image = image.convert("L")
    elif mode not in GREY_MODES + COLOUR_MODES + ALPHA_MODES:
        raise refused(file, f"pixels of the kind {mode}")
    values = np.asarray(image)
    values = values[..., None] if values.ndim == 2 else values
    return split(values, said, notes)


def _index(exif: Image.Exif) -> str:
    """The Exif interoperability index, or ""."""
    inner = exif.get_ifd(EXIF_IFD).get(INTEROP_IFD)
    found = exif.get_ifd(INTEROP_IFD).get(INTEROP_INDEX, "") if inner is not None else ""
    return str(found)


def _deep(file: Path, said: dict[str, Any]) -> Raw:
    """A PNG of 16 bits: the usual library would cut colours down to 8."""
    import imagecodecs  # a large library that most runs do not need

    try:
        values = imagecodecs.png_decode(file.read_bytes())
    except imagecodecs.PngError as problem:
        raise refused(file, f"a broken PNG ({_reason(problem)})", "a whole file") from None
    return split(values[..., None] if values.ndim == 2 else values, said, ())


def split(values: NDArray[Any], said: dict[str, Any], notes: tuple[str, ...]) -> Raw:
    """Raw with the last of two or four channels as alpha."""
    if values.shape[-1] in (1, 3):
        return Raw(values, notes=notes, **said)
    top = float(np.iinfo(values.dtype).max)
    alpha = values[..., -1].astype(np.float32) / np.float32(top)
    return Raw(values[..., :-1], alpha, notes=notes, **said)
