"""Pictures that promise far more than they hold, and profiles that lie."""

from __future__ import annotations

import io
import struct
import zlib
from functools import cache
from random import Random

import numpy as np
import tifffile
from PIL import Image, ImageCms

from tests.fuzz import seeds
from tests.fuzz.mutate import spoilt

FULL = 200_000_000  # bytes that a small chunk unpacks to
WINDOW = b"dataWindow\0box2i\0" + struct.pack("<I", 16)


def chunk(kind: bytes, data: bytes) -> bytes:
    """A chunk of a PNG."""
    crc = zlib.crc32(kind + data)
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", crc)


@cache
def _nought() -> bytes:
    packer = zlib.compressobj(9)
    block = bytes(1 << 20)
    return b"".join(packer.compress(block) for _ in range(FULL >> 20)) + packer.flush()


@cache
def bombs() -> tuple[bytes, ...]:
    """PNG, TIFF and EXR whose size, rows, texts or profiles unpack to hundreds of megabytes."""
    png = seeds.encoded("PNG")
    head, rest = png[:33], png[33:]
    profile = chunk(b"iCCP", b"a\0\0" + _nought())
    text = chunk(b"zTXt", b"a\0\0" + _nought())
    said = chunk(b"iTXt", b"a\0\1\0\0\0" + _nought())
    exr = seeds.pictures()[-1]
    at = exr.index(WINDOW) + len(WINDOW)
    vast = exr[:at] + struct.pack("<4i", -(2**30), -(2**30), 2**30, 2**30) + exr[at + 16 :]
    wide = exr[:at] + struct.pack("<4i", 0, 0, 11_999, 11_999) + exr[at + 16 :]
    return (
        seeds.bomb_png(),
        *(head + each + rest for each in (profile, text, said)),
        _tiff(60_000, 60_000),
        _tiff(20_000, 20_000),
        _tiff(12_000, 12_000),
        vast,
        wide,
    )


def _tiff(width: int, height: int) -> bytes:
    """A TIFF with the tags of a vast picture and the data of a small one."""
    out = io.BytesIO()
    small = np.zeros((8, 8, 3), np.uint8)
    tifffile.imwrite(out, small, photometric="rgb", compression="zlib", rowsperstrip=8)
    data = bytearray(out.getvalue())
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as read:
        for tag, value in (
            ("ImageWidth", width),
            ("ImageLength", height),
            ("RowsPerStrip", height),
        ):
            found = read.pages[0].tags[tag]
            size = {3: "<H", 4: "<I"}[int(found.dtype)]
            data[found.valueoffset : found.valueoffset + struct.calcsize(size)] = struct.pack(
                size, min(value, 0xFFFF if size == "<H" else value)
            )
    return bytes(data)


def lying(rng: Random) -> bytes:
    """A picture whose profile is spoilt, cut, of another kind, or far too long."""
    kind = rng.choice(("sRGB", "LAB", "XYZ"))
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile(kind)).tobytes()
    if rng.random() < 0.8:
        profile = spoilt(rng, profile, [profile])
    if rng.random() < 0.2:  # it says another length than it has
        profile = struct.pack(">I", rng.choice((0, 1, 2**31, 2**32 - 1))) + profile[4:]
    mode = rng.choice(("RGB", "L", "RGBA"))
    out = io.BytesIO()
    image = Image.new(mode, (seeds.SIDE, seeds.SIDE), 90 if mode == "L" else (90,) * len(mode))
    image.save(out, rng.choice(("PNG", "TIFF")), icc_profile=profile)
    return out.getvalue()
