"""Whether each gel of a kit file is described in one way, and lets through no more than it gets."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from render.errors import KitError
from render.photometry.gels import measured_share, most_of_correction, rgb_share
from render.studio.gel import Gel
from render.studio.kit import Kit

WAYS = ("mired", "density", "rgb", "spectrum")
ONE_WAY = "one of mired, density, rgb, or spectrum with wavelengths_nm"
ROUNDING = 1e-9

Problem = tuple[str, str, str]  # key, what was found, what would be accepted


def check_gels(file: Path, kit: Kit) -> None:
    """Raise KitError for the first gel of a kit file that cannot be."""
    for name, gel in kit.gel.items():
        problem = _of_description(gel) or _of_spectrum(gel) or _of_light(gel)
        if problem is not None:
            key, found, wanted = problem
            raise KitError(file, f"gel.{name}.{key}".rstrip("."), found, wanted)


def _of_description(gel: Gel) -> Problem | None:
    ways = [way for way in WAYS if getattr(gel, way) is not None]
    if len(ways) > 1:
        return "", f"described twice, by {' and by '.join(ways)}", ONE_WAY
    if gel.spectrum is None and gel.wavelengths_nm is not None:
        return "spectrum", "missing", "the transmission at each of wavelengths_nm"
    if not ways and gel.transmission is None:
        return "", "says nothing of its light", f"{ONE_WAY}, or transmission alone for a grey one"
    if gel.mired is not None and gel.transmission is None:
        return "transmission", "missing", "with mired: the luminous transmission, above 0 up to 1"
    if gel.density is not None and gel.transmission is not None:
        return "density", "stated beside transmission", "one of the two"
    return None


def _of_spectrum(gel: Gel) -> Problem | None:
    if gel.spectrum is None:
        return None
    places = gel.wavelengths_nm
    if places is None:
        return "wavelengths_nm", "missing", "a wavelength for each value of spectrum"
    if len(places) != len(gel.spectrum):
        found = f"{len(gel.spectrum)} values at {len(places)} wavelengths"
        return "spectrum", found, "one value a wavelength"
    if np.any(np.diff(places) <= 0):
        return "wavelengths_nm", "not rising", "each longer than the one before"
    return None


def _of_light(gel: Gel) -> Problem | None:
    """No colour may leave a gel brighter than it came."""
    if gel.mired is not None and gel.transmission is not None:
        most = most_of_correction(gel.mired)
        found = f"found {gel.transmission:g}, more than any sheet of this hue"
        return None if gel.transmission <= most else ("transmission", found, f"up to {most:.2f}")
    if gel.rgb is not None:
        key, plain = "rgb", rgb_share(gel.rgb, None)
        scaled = rgb_share(gel.rgb, gel.transmission) if plain.any() else plain
    elif gel.spectrum is not None and gel.wavelengths_nm is not None:
        key, plain = "spectrum", measured_share(gel.wavelengths_nm, gel.spectrum, None)
        scaled = measured_share(gel.wavelengths_nm, gel.spectrum, gel.transmission)
    else:
        return None
    if not plain.any():
        return key, "lets no light through", "a transmission above 0"
    most = float(scaled.max())
    if most <= 1 + ROUNDING:
        return None
    found = f"found {gel.transmission:g}, but this {key} would let {most:.2f} of some light through"
    return "transmission", found, "a lower one, or a paler colour"
