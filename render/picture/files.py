"""Write pictures: 8-bit PNG, 16-bit TIFF, linear EXR, each with its exposure in the metadata."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import imageio.v3 as iio
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from render.errors import OutputError
from render.picture.develop import Exposure, Picture, codes
from render.writing import in_place_of

EXIF_EXPOSURE_TIME, EXIF_F_NUMBER, EXIF_ISO, EXIF_FOCAL_LENGTH = 0x829A, 0x829D, 0x8827, 0x920A
EXIF_IFD, EXIF_SOFTWARE, EXIF_DESCRIPTION = 0x8769, 0x0131, 0x010E
WRITTEN_BY = "tenthstop"


def write_whole(path: Path, write: Callable[[Path], object], lasting: bool = True) -> Path:
    """Write through a draft, so that a file is there whole or not at all (see `writing`).

    lasting : also after a power cut
    Raises OutputError where the folder is missing or cannot be written.
    """
    try:
        with in_place_of(path, lasting) as part:
            write(part)
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise OutputError(f"{path}: cannot be written: {reason.lower()}") from None
    return path


def srgb_profile() -> bytes:
    """An sRGB profile that is the same every time: its date field (bytes 24 to 35) is zeroed."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return profile[:24] + bytes(12) + profile[36:]


def described(exposure: Exposure, title: str) -> str:
    """One line that says how the picture was exposed."""
    shutter = f"1/{1 / exposure.shutter_s:.0f} s" if exposure.shutter_s < 1 else (
        f"{exposure.shutter_s:g} s"
    )  # fmt: skip
    return (
        f"{title}: f/{exposure.f_number:g}, ISO {exposure.iso_speed:g}, {shutter}, "
        f"{exposure.focal_length_mm:g} mm; linear 0.18 is an 18 % card at the metered f-number; "
        "no tone curve"
    )


def write_png(path: Path, picture: Picture, title: str) -> Path:
    """8-bit sRGB PNG with profile and Exif."""
    pixels = np.round(255 * codes(picture.linear)).astype(np.uint8)
    return write_image(path, Image.fromarray(pixels), picture.exposure, title)


def write_image(path: Path, image: Image.Image, exposure: Exposure, title: str) -> Path:
    """An sRGB image as PNG with profile and Exif."""
    exif = Image.Exif()
    exif[EXIF_SOFTWARE] = WRITTEN_BY
    exif[EXIF_DESCRIPTION] = described(exposure, title)
    exif.get_ifd(EXIF_IFD).update(
        {
            EXIF_EXPOSURE_TIME: exposure.shutter_s,
            EXIF_F_NUMBER: exposure.f_number,
            EXIF_ISO: round(exposure.iso_speed),
            EXIF_FOCAL_LENGTH: exposure.focal_length_mm,
        }
    )
    return write_whole(
        path, lambda part: image.save(part, format="PNG", icc_profile=srgb_profile(), exif=exif)
    )


def write_tiff(path: Path, picture: Picture, title: str) -> Path:
    """16-bit sRGB TIFF with its exposure in the description."""
    pixels = np.round(65535 * codes(picture.linear)).astype(np.uint16)
    return write_whole(
        path,
        lambda part: iio.imwrite(
            part,
            pixels,
            plugin="tifffile",
            extension=".tif",
            photometric="rgb",
            compression="zlib",
            description=described(picture.exposure, title).encode("ascii", "replace").decode(),
            software=WRITTEN_BY,
            iccprofile=srgb_profile(),
            metadata=None,
        ),
    )


def write_exr(path: Path, picture: Picture, title: str) -> Path:
    """Linear EXR (32-bit) with the standard's own exposure attributes."""
    exposure = picture.exposure
    attributes: dict[str, str | float] = {
        "comments": described(exposure, title),
        "aperture": exposure.f_number,
        "isoSpeed": exposure.iso_speed,
        "expTime": exposure.shutter_s,
    }
    return write_linear(path, picture.linear, attributes)


def write_linear(path: Path, linear: NDArray[Any], attributes: Mapping[str, str | float]) -> Path:
    """Linear values (h, w, 3) as EXR (32-bit) with attributes by their names in the standard."""
    import OpenEXR  # a large library that most runs do not need

    header: dict[str, Any] = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        **attributes,
    }
    rgb = np.ascontiguousarray(linear, np.float32)

    def write(part: Path) -> None:
        try:
            OpenEXR.File(header, {"RGB": rgb}).write(str(part))
        except RuntimeError as problem:  # its word for a full disk, with the draft's name before
            raise OSError(str(problem).rsplit('". ')[-1].rstrip(".")) from None

    return write_whole(path, write)
