"""A file that cannot be combined is refused in one sentence, before it can do harm."""

import struct
import zlib
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import OpenEXR
import pytest
import tifffile
from PIL import Image

from render.combine.photo import read_photo
from render.errors import OutputError, PhotoError
from tests.unit.combine.files import png, tiff

RNG = np.random.default_rng(4)
CODES = RNG.integers(0, 256, (40, 60, 3)).astype(np.uint8)
DEEP = RNG.integers(0, 65536, (40, 60, 3)).astype(np.uint16)
LIGHT = RNG.uniform(0, 1, (40, 60, 3)).astype(np.float32)


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def bare_png(width: int, height: int, depth: int) -> bytes:
    """A PNG that claims a size and holds next to nothing."""
    header = struct.pack(">IIBBBBB", width, height, depth, 2, 0, 0, 0)
    data = chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + data + chunk(b"IEND", b"")


def saved(file: Path, codes: Any = CODES, mode: str = "RGB", **said: Any) -> None:
    Image.fromarray(codes).convert(mode).save(file, **said)


def cut(file: Path) -> None:
    """Leave the first half of a file."""
    data = file.read_bytes()
    file.write_bytes(data[: len(data) // 2])


def exr(file: Path, channels: dict[str, Any]) -> None:
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    OpenEXR.File(header, channels).write(str(file))


def looped(file: Path) -> None:
    """A TIFF whose only page names itself as the next one."""
    tiff(file, DEEP)
    data = bytearray(file.read_bytes())
    (page,) = struct.unpack_from("<I", data, 4)
    (tags,) = struct.unpack_from("<H", data, page)
    struct.pack_into("<I", data, page + 2 + 12 * tags, page)
    file.write_bytes(bytes(data))


def make(kind: str, file: Path) -> None:
    """Write the bad file of a kind."""
    grey = imagecodecs.cms_profile("gray", gamma=2.2)
    makers: dict[str, Any] = {
        "animation": lambda: saved(
            file, format="PNG", save_all=True, append_images=[Image.fromarray(CODES[::-1])]
        ),
        "press.jpg": lambda: saved(file, mode="CMYK", format="JPEG"),
        "press.tif": lambda: saved(file, mode="CMYK", format="TIFF"),
        "lab": lambda: saved(file, mode="LAB", format="TIFF"),
        "gif": lambda: saved(file, format="GIF"),
        "webp": lambda: saved(file, format="WEBP"),
        "pages": lambda: tiff(file, np.stack([DEEP, DEEP])),
        "32 bits": lambda: tiff(file, DEEP.astype(np.uint32)),
        "half.png": lambda: (png(file, CODES, format="PNG"), cut(file)),
        "half16.png": lambda: (file.write_bytes(imagecodecs.png_encode(DEEP)), cut(file)),
        "half.jpg": lambda: (saved(file, format="JPEG"), cut(file)),
        "half.tif": lambda: (tiff(file, DEEP), cut(file)),
        "half_lzw.tif": lambda: (tiff(file, DEEP, compression="lzw"), cut(file)),
        "loop.tif": lambda: looped(file),
        "start.tif": lambda: file.write_bytes(b"II*\0\x08\0\0\0"),
        "start.jpg": lambda: file.write_bytes(b"\xff\xd8\xff\xe0"),
        "start.png": lambda: file.write_bytes(b"\x89PNG\r\n\x1a\n"),
        "start.exr": lambda: file.write_bytes(b"v/1\x01\x02"),
        "bomb": lambda: file.write_bytes(bare_png(60000, 60000, 8)),
        "bomb16": lambda: file.write_bytes(bare_png(13000, 13000, 16)),
        "zero": lambda: file.write_bytes(bare_png(0, 10, 8)),
        "tiff bomb": lambda: tifffile.imwrite(
            file, shape=(13000, 13000, 3), dtype=np.uint8, photometric="rgb"
        ),
        "empty": lambda: file.write_bytes(b""),
        "text": lambda: file.write_text("no picture"),
        "folder": lambda: file.mkdir(),
        "depth": lambda: exr(file, {"Z": LIGHT[..., 0].copy()}),
        "bad profile": lambda: saved(file, format="PNG", icc_profile=b"\0" * 16 + b"RGB " * 80),
        "grey profile": lambda: saved(file, format="PNG", icc_profile=grey),
        "lab profile": lambda: saved(file, format="PNG", icc_profile=b"\0" * 16 + b"Lab " * 80),
        "missing": lambda: None,
    }
    makers[kind]()


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("animation", "an animation of 2 pictures"),
        ("press.jpg", "CMYK colours"),
        ("press.tif", "CMYK colours"),
        ("lab", "Lab colours"),
        ("gif", "a GIF"),
        ("webp", "a WebP"),
        ("pages", "2 pictures in one file"),
        ("32 bits", "32 bits a channel"),
        ("half.png", "a broken PNG"),
        ("half16.png", "a broken PNG"),
        ("half.jpg", "a broken JPEG"),
        ("half.tif", "ends too soon"),
        ("half_lzw.tif", "ends too soon"),
        ("loop.tif", "pictures in one file"),
        ("start.tif", "a broken TIFF"),
        ("start.jpg", "a broken JPEG"),
        ("start.png", "a broken PNG"),
        ("start.exr", "a broken EXR"),
        ("bomb", "more pixels than any camera has"),
        ("bomb16", "13000 x 13000 pixels"),
        ("zero", "PNG"),
        ("tiff bomb", "13000 x 13000 pixels"),
        ("empty", "an empty file"),
        ("text", "no picture"),
        ("folder", "a folder"),
        ("depth", "the channels Z"),
        ("bad profile", "a broken colour profile"),
        ("grey profile", "colours with a profile of grey"),
        ("lab profile", "a profile of Lab colours"),
        ("missing", "no such file"),
    ],
)
def test_a_bad_file_is_one_sentence(kind: str, said: str, tmp_path: Path) -> None:
    """File, what was found, what would be accepted; no path of this machine in it."""
    file = tmp_path / "picture"
    make(kind, file)
    with pytest.raises(PhotoError) as caught:
        read_photo(file)
    words = str(caught.value)
    assert words.startswith("picture: ")
    assert said in words
    assert words.count("\n") == 0
    assert str(tmp_path) not in words
    assert words.endswith(")")


def test_no_room_for_temporary_files_is_no_fault_of_the_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    exr(tmp_path / "a.exr", {"RGB": LIGHT.copy()})
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    with pytest.raises(OutputError, match="no room for temporary files"):
        read_photo(tmp_path / "a.exr")


def test_odd_files_that_can_be_read_are_read_and_say_what_was_done(tmp_path: Path) -> None:
    """Pixels that are no number are black; a further channel that means nothing is left out."""
    light = LIGHT.copy()
    light[3, 4] = np.nan, np.inf, 1.0
    exr(tmp_path / "a.exr", {"RGB": light})
    found = read_photo(tmp_path / "a.exr")
    assert np.isfinite(found.linear).all()
    assert "1 pixels that are no number" in found.notes[0]
    more = np.dstack([DEEP, DEEP[..., :1]])
    found = read_photo(tiff(tmp_path / "a.tif", more, extrasamples=["unspecified"]))
    assert found.alpha is None
    assert found.notes == ("a further channel is left out",)
    assert read_photo(tmp_path / "a.tif").size == (60, 40)
    plain = tmp_path / "white.tif"
    tifffile.imwrite(plain, DEEP[..., 0], photometric="miniswhite")
    top = read_photo(plain).linear.ravel()[DEEP[..., 0].argmin() * 3]
    assert top > 0.9
