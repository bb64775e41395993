"""A picture to combine: the user's own or a rendered one, as linear light, upright."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from render.combine.colour import Pixels, brightest, linear_light
from render.combine.exrs import read_exr
from render.combine.raw import Raw, opaque, refused
from render.combine.simple import read_simple
from render.combine.tiffs import read_tiff
from render.photometry.srgb import srgb_decode

HEAD_BYTES = 16
MOST_LIGHT = 1e9  # of white, 30 stops: beyond it a value is a slip of the file
KINDS = {  # how a file begins
    b"\x89PNG\r\n\x1a\n": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"II*\0": "TIFF",
    b"MM\0*": "TIFF",
    b"II+\0": "TIFF",
    b"MM\0+": "TIFF",
    b"v/1\x01": "EXR",
}
OTHERS = {b"GIF8": "a GIF", b"BM": "a BMP", b"%PDF": "a PDF", b"8BPS": "a layered file"}

# Exif: how the stored rows and columns have to be turned to stand upright.
UPRIGHT: dict[int, Callable[[Any], Any]] = {
    1: lambda v: v,
    2: np.fliplr,
    3: lambda v: np.rot90(v, 2),
    4: np.flipud,
    5: lambda v: np.swapaxes(v, 0, 1),
    6: lambda v: np.rot90(v, -1),
    7: lambda v: np.rot90(np.swapaxes(v, 0, 1), 2),
    8: lambda v: np.rot90(v, 1),
}


@dataclass(frozen=True, slots=True)
class Photo:
    """Linear light of a picture over black."""

    file: Path
    linear: Pixels  # (h, w, 3) sRGB primaries, 1 is code 255, unclipped
    alpha: Pixels | None  # (h, w) 0..1, already in `linear`; None where nothing shows through
    step: Pixels | None  # (256,) light between a level and the next, by 8-bit code; None: no steps
    colour: str  # what the file's colours are
    full: float  # share of pixels with a channel at the end of its range [-]
    notes: tuple[str, ...]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height [px]."""
        return self.linear.shape[1], self.linear.shape[0]


def read_photo(file: Path) -> Photo:
    """Read PNG, JPEG, TIFF or EXR. Raises PhotoError with one sentence for anything else."""
    raw = _read(file)
    values, notes = raw.values, list(raw.notes)
    full = float((brightest(values) == np.iinfo(values.dtype).max).mean()) if raw.bits else 0.0
    raw = _straight(raw)
    light, colour = linear_light(file, raw)
    light, lost = _numbers(light)
    if lost:
        notes.append(f"{lost} pixels that are no number are taken as black")
    alpha = raw.alpha if raw.alpha is None else np.nan_to_num(raw.alpha)
    if alpha is not None and opaque(alpha):
        alpha = None
    if alpha is not None:
        alpha = np.clip(alpha, 0, 1)
        # An EXR's light is what reaches the eye: its alpha only tells what it hides.
        light = light if raw.bits == 0 and raw.associated else light * alpha[..., None]
        notes.append("what is transparent is taken as black behind it")
    turn = UPRIGHT.get(raw.orientation)
    if turn is None:
        notes.append(f"an orientation of {raw.orientation} is not known: taken as it lies")
        turn = UPRIGHT[1]
    elif raw.orientation != 1:
        notes.append("turned upright by its orientation")
    upright = np.ascontiguousarray(turn(light), np.float32)
    held = None if alpha is None else np.ascontiguousarray(turn(alpha), np.float32)
    return Photo(file, upright, held, _steps(raw.bits), colour, full, tuple(notes))


def _read(file: Path) -> Raw:
    """Values of a file by how it begins, whatever it is called."""
    try:
        if file.is_dir():
            raise refused(file, "a folder")
        if file.exists() and not file.is_file():  # a pipe would keep us waiting
            raise refused(file, "not a file")
        with file.open("rb") as opened:
            head = opened.read(HEAD_BYTES)
        kind = next((name for start, name in KINDS.items() if head.startswith(start)), "")
        if kind in ("PNG", "JPEG"):
            return read_simple(file, kind)
        if kind == "TIFF":
            return read_tiff(file)
        if kind == "EXR":
            return read_exr(file)
    except (OSError, ValueError) as problem:  # ValueError: a name with a zero byte
        reason = (getattr(problem, "strerror", None) or "cannot be read").lower()
        raise refused(file, reason, "a picture that can be read") from None
    if not head:
        raise refused(file, "an empty file")
    raise refused(file, _other(head))


def _other(head: bytes) -> str:
    """What a file is that is none of the accepted kinds."""
    if head[4:8] == b"ftyp":
        return "a phone's picture or a film"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "a WebP"
    return next((name for start, name in OTHERS.items() if head.startswith(start)), "no picture")


def _numbers(light: Pixels) -> tuple[Pixels, int]:
    """Light (h, w, 3) with black for what is no number, and how many pixels hold such."""
    odd = ~((light <= MOST_LIGHT) & (light >= -MOST_LIGHT))
    lost = int(odd.any(-1).sum())
    return (np.where(odd, np.float32(0), light) if lost else light), lost


def _straight(raw: Raw) -> Raw:
    """Whole numbers that are multiplied by alpha divided by it: their curve is for those."""
    if raw.alpha is None or not raw.associated or raw.bits == 0:
        return raw
    top = np.float32(np.iinfo(raw.values.dtype).max)
    share = np.maximum(raw.alpha, np.float32(1) / top)[..., None]
    values = np.clip(np.round(raw.values / share), 0, top).astype(raw.values.dtype)
    return replace(raw, values=values)


def _steps(bits: int) -> Pixels | None:
    """Light between one level of the file and the next, at each 8-bit code."""
    if bits == 0:
        return None
    codes = np.arange(256) / 255
    step = srgb_decode(codes + 1 / (2**bits - 1)) - srgb_decode(codes)
    return np.asarray(step, np.float32)
