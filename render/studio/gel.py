"""A gel: a coloured or grey sheet in front of a light."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from render.studio.part import Part

Share = Annotated[float, Field(ge=0, le=1)]
Kelvin = Annotated[float, Field(ge=1500, le=25000)]  # CIE daylight ends at 25000 K
Nanometre = Annotated[float, Field(ge=300, le=900)]


class Gel(Part):
    """A gel, described in one way: mired, density, rgb, or spectrum with wavelengths_nm."""

    about: str = Field("", description="one line that tells it from the others")
    transmission: float | None = Field(
        None,
        gt=0,
        le=1,
        description="luminous, on a flash of 5500 K; needed with mired, scales rgb and spectrum",
    )
    transmission_range: tuple[Share, Share] | None = Field(
        None, description="least and most that is usual"
    )
    mired: float | None = Field(
        None, ge=-250, le=400, description="correction: its shift in mired, + is warmer"
    )
    density: float | None = Field(
        None, ge=0, le=3, description="neutral: optical density; 0.3 is one stop"
    )
    rgb: tuple[Share, Share, Share] | None = Field(
        None, description="colour: transmission of red, green and blue, linear sRGB"
    )
    spectrum: tuple[Share, ...] | None = Field(
        None, min_length=2, description="colour: measured transmission at wavelengths_nm"
    )
    wavelengths_nm: tuple[Nanometre, ...] | None = Field(
        None, min_length=2, description="where spectrum was measured, rising"
    )
    source: str = Field("", description="where the figures are from")
