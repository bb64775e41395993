"""From a file's own colours to linear light in sRGB primaries, and back to its codes.

Light stays unclipped: colours that sRGB cannot show have negative channels until they are written.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from render.combine.raw import Raw, refused
from render.photometry.colour import SRGB_PRIMARIES, SRGB_WHITE
from render.photometry.srgb import LUMINANCE_SHARES, srgb_decode, srgb_encode

Pixels = NDArray[np.float32]

# IEC 61966-2-5: chromaticities of red, green, blue and exponent; white is D65 as in sRGB.
OP_RGB_PRIMARIES = np.array([[0.64, 0.33], [0.21, 0.71], [0.15, 0.06]])
OP_RGB_GAMMA = 2.19921875
NEAR = 1e-4  # chromaticities that differ by less are the same


def linear_light(file: Path, raw: Raw) -> tuple[Pixels, str]:
    """Linear sRGB (h, w, 3), 1 is code 255, and words that name the colours of the file.

    A profile is followed with its relative colorimetric rendering where it is a matrix, with its
    table where it has one. Without a profile whole numbers are sRGB and floating point is linear.
    Raises PhotoError for a profile that is broken or of other colours.
    """
    values = raw.values
    if raw.profile:
        return _by_profile(file, values, raw.profile), _name(raw.profile)
    if raw.space == "opRGB":
        profile = _matrix_profile(OP_RGB_PRIMARIES, SRGB_WHITE, OP_RGB_GAMMA)
        return _transformed(_three(values), profile, "rgb"), "opRGB by its Exif data, no profile"
    if raw.bits == 0:
        return _linear(file, values, raw.primaries)
    top = int(np.iinfo(values.dtype).max)
    light = srgb_decode(np.arange(top + 1) / top).astype(np.float32)  # of every level
    return _three(light[values]), "no profile: taken as sRGB"


def codes_of(light: Pixels) -> Pixels:
    """sRGB codes (...) 0 ... 255, not rounded, of linear light (...), clipped to what shows."""
    return np.float32(255) * cast(Pixels, srgb_encode(cast(Any, np.clip(light, 0, 1))))


def light_of(code: float) -> float:
    """Linear light of a code 0 ... 255."""
    return float(srgb_decode(code / 255))


def brightest(values: NDArray[Any]) -> NDArray[Any]:
    """The highest channel (h, w) of a picture (h, w, 1 or 3)."""
    peak = values[..., 0]
    for k in range(1, values.shape[-1]):
        peak = np.maximum(peak, values[..., k])
    return peak


def brightness(light: Pixels) -> Pixels:
    """Luminance (h, w) of linear light (h, w, 3)."""
    y: Pixels = light @ LUMINANCE_SHARES.astype(np.float32)
    return y


def _three(values: NDArray[Any]) -> NDArray[Any]:
    return np.repeat(values, 3, -1) if values.shape[-1] == 1 else np.ascontiguousarray(values)


def _linear(file: Path, values: NDArray[Any], primaries: tuple[float, ...]) -> tuple[Pixels, str]:
    """Floating point: linear already, in the primaries that an EXR names or sRGB's."""
    light = _three(values)
    own = np.reshape(primaries, (-1, 2)) if primaries else None
    usual = np.vstack([SRGB_PRIMARIES, SRGB_WHITE])
    if own is None:
        return light, "linear, no primaries named: taken as sRGB's"
    if own.shape == usual.shape and np.abs(own - usual).max() < NEAR:
        return light, "linear, sRGB primaries"
    try:
        profile = _matrix_profile(own[:3], own[3], 1.0)
        return _transformed(light, profile, "rgb"), "linear, own primaries"
    except (RuntimeError, ValueError):
        raise refused(file, "primaries that make no colours", "an EXR as it was written") from None


def _by_profile(file: Path, values: NDArray[Any], profile: bytes) -> Pixels:
    kinds = {b"RGB ": "rgb", b"GRAY": "gray"}
    kind = kinds.get(profile[16:20], "")
    if not kind:
        found = profile[16:20].decode("ascii", "replace").strip()
        raise refused(file, f"a profile of {found} colours", "a profile of RGB or grey")
    if kind == "gray" and values.shape[-1] == 3:
        raise refused(file, "colours with a profile of grey", "a profile of RGB")
    plain = _three(values) if kind == "rgb" else np.ascontiguousarray(values[..., 0])
    try:
        return _transformed(plain, profile, kind)
    except (RuntimeError, ValueError):
        raise refused(file, "a broken colour profile", "a profile that can be read") from None


def _transformed(values: NDArray[Any], profile: bytes, kind: str) -> Pixels:
    """Values in a profile's colours as linear sRGB (h, w, 3), worked out in floating point."""
    import imagecodecs  # a large library that most runs do not need

    light: Pixels = imagecodecs.cms_transform(
        values,
        profile,
        _matrix_profile(SRGB_PRIMARIES, SRGB_WHITE, 1.0),
        colorspace=kind,
        outcolorspace="rgb",
        outdtype=np.float32,
        intent=imagecodecs.CMS.INTENT.RELATIVE_COLORIMETRIC,
    )
    return light


def _matrix_profile(primaries: NDArray[Any], white: NDArray[Any], gamma: float) -> bytes:
    """An ICC profile of three primaries (3, 2), a white (2,) and an exponent."""
    import imagecodecs

    made: bytes = imagecodecs.cms_profile(
        "rgb",
        whitepoint=[*map(float, white), 1.0],
        primaries=[float(v) for x, y in primaries for v in (x, y, 1.0)],
        gamma=gamma,
    )
    return made


def _name(profile: bytes) -> str:
    """What a profile calls itself."""
    import io

    from PIL import ImageCms

    try:
        words = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(profile)))
    except (ImageCms.PyCMSError, OSError):
        words = ""
    return f"profile {' '.join(words.split()) or 'without a name'}"
