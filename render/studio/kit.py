"""The kit: flash heads, modifiers and what the meter said of them."""

from __future__ import annotations

import datetime
from typing import Literal

from pydantic import Field

from render.studio.part import POWER_WORDS, Part, Power, Sides
from render.studio.surface import Surface


class Flash(Part):
    """A flash head."""

    stored_energy_ws: float = Field(ge=5, le=5000, description="dial marking at full power")
    efficacy_lm_per_ws: float = Field(
        35, ge=5, le=80, description="light per stored energy; typical 15 to 50"
    )
    power_range_stops: float = Field(
        5, ge=0, le=12, description="from full down to the least power"
    )


class Modifier(Part):
    """A softbox or strip with a flat rectangular front."""

    kind: Literal["softbox", "strip", "plain"] = Field(description="what it is called")
    size_cm: Sides = Field(description="width and height of the lit cloth")
    share: float = Field(
        0.4, gt=0, le=1, description="share of the flash's light that leaves the cloth"
    )
    edge_falloff_stops: float = Field(
        0.4, ge=0, le=4, description="from the middle of the cloth to the middle of an edge"
    )
    recess_cm: float = Field(0, ge=0, le=40, description="depth of the black lip")
    shell_cm: float = Field(35, ge=2, le=120, description="depth of the housing behind the cloth")
    grid_depth_cm: float = Field(5, gt=0, le=20, description="depth of its fabric grid")


class KitReading(Part):
    """A real reading, straight ahead of the front, with all other lights off."""

    flash: str
    modifier: str
    power: Power = Field(1.0, description=POWER_WORDS)
    distance_m: float = Field(ge=0.2, le=15, description="from the cloth to the receptor")
    iso_speed: float = Field(100, ge=6, le=409600, description="set on the meter")
    receptor: Literal["flat", "dome"] = Field("flat", description="which receptor was out")
    f_number: float = Field(ge=0.5, le=128, description="what the meter showed")
    date: datetime.date | None = Field(None, description="when")


class Kit(Part):
    """Everything the kit files list."""

    flash: dict[str, Flash] = {}
    modifier: dict[str, Modifier] = {}
    surface: dict[str, Surface] = {}
    reading: tuple[KitReading, ...] = ()
