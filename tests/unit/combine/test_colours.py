"""Colours of a file become linear sRGB as independent libraries have it; sRGB codes stay codes."""

import struct
import warnings
from pathlib import Path

import imagecodecs
import numpy as np
import OpenEXR
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps

from render.combine.colour import codes_of
from render.combine.photo import read_photo
from render.combine.written import write_result
from render.picture.files import srgb_profile
from tests.unit.combine.files import png, tiff

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

RNG = np.random.default_rng(3)
CODES = np.stack(np.meshgrid(*[np.arange(0, 256, 15)] * 3), -1).reshape(18, -1, 3).astype(np.uint8)
D65 = (0.3127, 0.3290)
D50 = (0.9642, 1.0, 0.8249)  # X, Y, Z, as profiles have it
WIDE = (0.708, 0.292, 0.170, 0.797, 0.131, 0.046)  # primaries of ITU-R BT.2020


def profile(primaries: tuple[float, ...], gamma: float, white: tuple[float, float] = D65) -> bytes:
    """A matrix profile; x, y of red, green and blue."""
    pairs = np.reshape(primaries, (3, 2))
    flat = [float(v) for x, y in pairs for v in (x, y, 1.0)]
    made: bytes = imagecodecs.cms_profile(
        "rgb", whitepoint=[*white, 1.0], primaries=flat, gamma=gamma
    )
    return made


@pytest.mark.parametrize("icc", [b"", srgb_profile()], ids=["none", "profile"])
def test_codes_of_8_and_16_bits_come_back(icc: bytes, tmp_path: Path) -> None:
    """The round trip through linear light keeps every code: the formula is its own inverse."""
    every = np.arange(256, dtype=np.uint8).reshape(16, 16)
    codes = np.dstack([every, every[::-1], np.roll(every, 7)])
    said = {"icc_profile": icc} if icc else {}
    read = read_photo(png(tmp_path / "a.png", codes, **said))
    out = write_result(tmp_path / "b.png", read.linear, "")
    assert_array_equal(np.asarray(Image.open(out)), codes)
    deep = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    deep = np.dstack([deep, deep[::-1], deep.T])
    read = read_photo(tiff(tmp_path / "a.tif", deep, iccprofile=icc or None))
    out = write_result(tmp_path / "b.tif", read.linear, "")
    import tifffile

    back = tifffile.imread(out).astype(int)
    # A profile's curve is kept in steps of 1/65536 itself.
    assert np.abs(back - deep).max() <= (2 if icc else 0)


@pytest.mark.parametrize(
    ("space", "gamma"), [("Adobe RGB (1998)", 2.19921875), ("ITU-R BT.2020", 2.4), ("P3-D65", 2.6)]
)
def test_a_profile_is_followed_as_colour_science_has_it(
    space: str, gamma: float, tmp_path: Path
) -> None:
    """Matrices of colour-science 0.4 (BSD), values 16 bits deep; out of sRGB is negative."""
    known = colour.RGB_COLOURSPACES[space]
    values = RNG.integers(0, 65536, (20, 30, 3)).astype(np.uint16)
    icc = profile(tuple(known.primaries.ravel()), gamma)
    found = read_photo(tiff(tmp_path / "a.tif", values, iccprofile=icc))
    light = (values / 65535) ** gamma
    wanted = colour.RGB_to_RGB(light, known, "sRGB", chromatic_adaptation_transform="Bradford")
    assert_allclose(found.linear, wanted, atol=3e-4)
    assert found.linear.min() < -0.01


def test_a_profile_of_another_white_keeps_white_white(tmp_path: Path) -> None:
    """ICC colours are relative to the white of the medium: neutral stays neutral."""
    known = colour.RGB_COLOURSPACES["ProPhoto RGB"]
    white = tuple(known.whitepoint)
    icc = profile(tuple(known.primaries.ravel()), 1.8, (float(white[0]), float(white[1])))
    values = RNG.integers(0, 65536, (9, 9, 3)).astype(np.uint16)
    values[0, 0] = 65535
    found = read_photo(tiff(tmp_path / "a.tif", values, iccprofile=icc)).linear
    assert_allclose(found[0, 0], 1.0, atol=2e-4)
    wanted = colour.RGB_to_RGB(
        (values / 65535) ** 1.8, known, "sRGB", chromatic_adaptation_transform="Bradford"
    )
    assert_allclose(found, wanted, atol=1e-3)


def test_a_profile_is_followed_as_pillow_has_it(tmp_path: Path) -> None:
    """ImageCms to sRGB, 8 bits, within a code where sRGB can show the colour."""
    icc = profile((0.64, 0.33, 0.21, 0.71, 0.15, 0.06), 2.19921875)
    file = png(tmp_path / "a.png", CODES, icc_profile=icc)
    found = read_photo(file)
    import io

    theirs = ImageCms.profileToProfile(
        Image.open(file), ImageCms.ImageCmsProfile(io.BytesIO(icc)),
        ImageCms.createProfile("sRGB"), renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )  # fmt: skip
    shows = ((found.linear > 0.001) & (found.linear < 1)).all(-1)
    assert shows.mean() > 0.4
    off = np.abs(codes_of(found.linear) - np.asarray(theirs))[shows]
    assert off.max() <= 1.0


def fixed(*values: float) -> bytes:
    """Numbers as a profile writes them, 16 bits behind the point."""
    return struct.pack(f">{len(values)}i", *(round(65536 * v) for v in values))


def table_profile(matrix: NDArray[np.float64], gamma: float) -> bytes:
    """A profile of RGB to XYZ under D50 by a table alone: curves, then two grid points a side.

    Layout of lut16Type and of the header: ICC.1:2010, from memory.
    """
    levels = 256
    curve = np.round(65535 * (np.arange(levels) / (levels - 1)) ** gamma).astype(">u2").tobytes()
    corners = np.array([[r, g, b] for r in (0, 1) for g in (0, 1) for b in (0, 1)])
    grid = np.round(corners @ matrix.T * 32768).clip(0, 65535).astype(">u2").tobytes()
    straight = np.array([0, 65535] * 3, ">u2").tobytes()
    start = b"mft2" + bytes(4) + bytes([3, 3, 2, 0]) + fixed(*np.eye(3).ravel())
    table = start + struct.pack(">HH", levels, 2) + 3 * curve + grid + straight
    white = fixed(*D50)
    name = b"desc" + bytes(4) + struct.pack(">I", 6) + b"table\0" + bytes(78)
    parts = ((b"A2B0", table), (b"wtpt", b"XYZ " + bytes(4) + white), (b"desc", name))
    index, body = struct.pack(">I", len(parts)), b""
    for key, part in parts:
        index += key + struct.pack(">II", 132 + 12 * len(parts) + len(body), len(part))
        body += part + bytes(-len(part) % 4)
    head = struct.pack(">I", 128 + len(index) + len(body)) + bytes(4) + bytes([2, 0x40, 0, 0])
    head += b"scnrRGB XYZ " + bytes(12) + b"acsp" + bytes(28) + white
    return head.ljust(128, b"\0") + index + body


def test_a_profile_that_is_a_table_is_followed(tmp_path: Path) -> None:
    """Scanners have those. A table whose corners are a matrix is that matrix: colour-science."""
    known = colour.RGB_COLOURSPACES["Adobe RGB (1998)"]
    whites = (colour.xy_to_XYZ(np.array(D65)), np.array(D50))
    adapted = colour.adaptation.matrix_chromatic_adaptation_VonKries(*whites, "Bradford")
    icc = table_profile(adapted @ known.matrix_RGB_to_XYZ, 2.2)
    values = RNG.integers(0, 65536, (20, 30, 3)).astype(np.uint16)
    found = read_photo(tiff(tmp_path / "a.tif", values, iccprofile=icc))
    wanted = colour.RGB_to_RGB((values / 65535) ** 2.2, known, "sRGB")
    assert_allclose(found.linear, wanted, atol=5e-4)
    assert found.colour == "profile table"


def test_a_camera_that_says_its_colours_in_exif_alone(tmp_path: Path) -> None:
    """Interoperability index R03 of Exif 2.3 is the optional space, IEC 61966-2-5."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 0xFFFF
    exif.get_ifd(0x8769)[0xA005] = {1: "R03"}
    file = tmp_path / "a.jpg"
    Image.fromarray(np.full((16, 16, 3), (40, 200, 60), np.uint8)).save(
        file, exif=exif, quality=100, subsampling=0
    )
    found = read_photo(file)
    assert "opRGB" in found.colour
    stored = np.asarray(Image.open(file))[8, 8] / 255
    wanted = colour.RGB_to_RGB(stored**2.19921875, "Adobe RGB (1998)", "sRGB")
    assert_allclose(found.linear[8, 8], wanted, atol=3e-4)


def exr(file: Path, channels: dict[str, NDArray[np.float32]], **said: object) -> Path:
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage, **said}
    OpenEXR.File(header, channels).write(str(file))
    return file


def test_an_exr_is_linear_in_the_primaries_it_names(tmp_path: Path) -> None:
    """Values of colour-science; without primaries, and over white, they are taken as they are."""
    light = RNG.uniform(0, 4, (8, 9, 3)).astype(np.float32)
    plain = read_photo(exr(tmp_path / "plain.exr", {"RGB": light}))
    assert_array_equal(plain.linear, light)
    named = read_photo(exr(tmp_path / "w.exr", {"RGB": light}, chromaticities=(*WIDE, *D65)))
    wanted = colour.RGB_to_RGB(light, "ITU-R BT.2020", "sRGB", apply_cctf_decoding=False)
    assert_allclose(named.linear, wanted, atol=2e-3)
    out = write_result(tmp_path / "again.exr", plain.linear, "words")
    assert_array_equal(read_photo(out).linear, light)


def test_an_exr_window_that_is_smaller_lies_where_it_says(tmp_path: Path) -> None:
    from render.combine.exrs import _framed

    values = np.ones((2, 3, 3), np.float32)
    page = _framed(values, ((0, 0), (9, 7)), ((4, 5), (6, 6)))
    assert page.shape == (8, 10, 3)
    assert page[5:7, 4:7].all()
    assert page.sum() == values.sum()


def test_grey_follows_its_profile(tmp_path: Path) -> None:
    """A grey of exponent 1.8, as older screens had it: v ** 1.8 in all channels."""
    icc = imagecodecs.cms_profile("gray", gamma=1.8)
    codes = np.arange(0, 256, 5, dtype=np.uint8)[None]
    found = read_photo(png(tmp_path / "g.png", codes, icc_profile=icc)).linear
    assert_allclose(found, ((codes / 255) ** 1.8)[..., None] * [1, 1, 1], atol=3e-4)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_pictures_stand_upright_as_pillow_turns_them(orientation: int, tmp_path: Path) -> None:
    """ImageOps.exif_transpose of pillow, an independent reading of the Exif tag."""
    codes = RNG.integers(0, 256, (5, 8, 3)).astype(np.uint8)
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = png(tmp_path / "a.png", codes, exif=exif)
    with Image.open(file) as image:
        wanted = np.asarray(ImageOps.exif_transpose(image))
    assert_array_equal(np.round(codes_of(read_photo(file).linear)), wanted)


@pytest.mark.parametrize(
    ("mode", "note"),
    [("L", ""), ("1", ""), ("P", "palette"), ("LA", ""), ("RGBA", ""), ("I;16", "")],
)
def test_other_kinds_of_pixels_are_understood(mode: str, note: str, tmp_path: Path) -> None:
    """The same picture, as pillow itself turns that kind into RGB."""
    grey = RNG.integers(0, 2, (6, 7)).astype(np.uint8) * 255
    image = Image.fromarray(grey)
    if mode == "I;16":
        image = Image.fromarray(grey.astype(np.uint16) * 257)
    else:
        image = image.convert("RGB").convert(mode)
    file = tmp_path / "a.png"
    image.save(file)
    found = read_photo(file)
    assert_allclose(codes_of(found.linear)[..., 0], grey, atol=0.01)
    assert note in " ".join(found.notes)


def test_deep_png_and_tiffs_packed_any_way_are_read_whole(tmp_path: Path) -> None:
    """16 bits stay 16 bits: a common library cuts PNG down to 8."""
    deep = RNG.integers(0, 65536, (9, 8, 3)).astype(np.uint16)
    (tmp_path / "a.png").write_bytes(imagecodecs.png_encode(deep))
    files = [tmp_path / "a.png"]
    for k, packed in enumerate([None, "zlib", "lzw"]):
        said = {"compression": packed, "predictor": packed is not None}
        files.append(tiff(tmp_path / f"{k}.tif", deep, **said))
    planes = np.moveaxis(deep, -1, 0)
    files.append(tiff(tmp_path / "planes.tif", planes, planarconfig="separate"))
    for file in files:
        assert_allclose(codes_of(read_photo(file).linear) * 257, deep, atol=0.05)


def test_what_shows_through_is_laid_on_black(tmp_path: Path) -> None:
    """Light times alpha, in linear light; a TIFF that is multiplied already is undone first."""
    clear = np.dstack([np.full((4, 5, 3), 118, np.uint8), np.full((4, 5), 51, np.uint8)])
    found = read_photo(png(tmp_path / "a.png", clear))
    assert_allclose(found.linear, 0.2 * ((118 / 255 + 0.055) / 1.055) ** 2.4, rtol=1e-5)
    assert "black behind" in " ".join(found.notes)
    pre = np.dstack([np.full((4, 5, 3), 0.2 * 118 * 257), np.full((4, 5), 0.2 * 65535)])
    file = tiff(tmp_path / "a.tif", np.round(pre).astype(np.uint16), extrasamples=["assocalpha"])
    assert_allclose(read_photo(file).linear, found.linear, rtol=1e-3)
