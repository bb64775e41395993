"""The kit: flash heads, modifiers and what the meter said of them."""

from __future__ import annotations

import datetime
from typing import Literal

from pydantic import Field

from render.studio.gel import Gel, Kelvin
from render.studio.part import (
    F_NUMBER_WORDS,
    POWER_WORDS,
    Part,
    Power,
    ShownFNumber,
    Side,
    Sides,
)
from render.studio.surface import Surface

ABOUT = "one line that tells it from the others"
SOURCE = "where the figures are from"


class Flash(Part):
    """A flash head."""

    about: str = Field("", description=ABOUT)
    stored_energy_ws: float = Field(ge=5, le=5000, description="dial marking at full power")
    efficacy_lm_per_ws: float = Field(
        35, ge=5, le=80, description="light per stored energy; typical 15 to 50"
    )
    power_range_stops: float = Field(
        5, ge=0, le=12, description="from full down to the least power; typical 3 to 9"
    )
    power_step_stops: float = Field(
        0.1, ge=0, le=1, description="one click of the dial: 0.1, 0.33, 0.5 or 1; stepless 0"
    )
    colour_temperature_k: Kelvin = Field(
        5500, description="at full power; typical 5000 to 6000, tungsten lamps 3200"
    )
    colour_drift_k_per_stop: float = Field(
        0,
        ge=-400,
        le=400,
        description="change for each stop below full power; voltage-controlled heads typically "
        "-50 to -150 (warmer), + is bluer",
    )
    mass_kg: float | None = Field(
        None, gt=0, le=30, description="of the head by itself; typical 1.3 to 3"
    )
    modelling_w: float | None = Field(
        None, ge=0, le=2000, description="modelling lamp at full; 0 has none, default: not known"
    )
    modelling_lm_per_w: float = Field(
        20, ge=5, le=200, description="its light; typical halogen 16 to 20, LED 80 to 100"
    )
    charging_w: float | None = Field(
        None,
        ge=0,
        le=10000,
        description="drawn from the mains while it charges; default: not known",
    )
    source: str = Field("", description=SOURCE)


Kind = Literal[
    "softbox",
    "strip",
    "octa",
    "round",
    "umbrella through",
    "umbrella bounce",
    "dish",
    "reflector",
    "snoot",
    "bare",
    "lantern",
    "measured",
    "plain",
]


class Modifier(Part):
    """What shapes the light of a flash: box, umbrella, dish, reflector, snoot, ball."""

    about: str = Field("", description=ABOUT)
    kind: Kind = Field(description="what it is; sets the shape of its front and what it can wear")
    size_cm: Sides | None = Field(
        None, description="width and height of a softbox, strip, plain or measured front"
    )
    diameter_cm: Side | None = Field(
        None, description="of any other: across the rim, of an octa across its corners"
    )
    sides: int = Field(8, ge=5, le=24, description="of an octa")
    share: float = Field(
        0.4, gt=0, le=1, description="share of the flash's light that leaves it, as it comes"
    )
    edge_falloff_stops: float = Field(
        0.4, ge=0, le=4, description="from the middle of the front to the middle of an edge or rim"
    )
    diffusers: int = Field(0, ge=0, le=3, description="cloths it comes with, inner and front")
    beam_deg: float | None = Field(
        None,
        ge=8,
        lt=120,
        description="full width at half intensity without a front cloth; default: even all over",
    )
    recess_cm: float = Field(
        0, ge=0, le=60, description="depth of the black lip; length of a snoot's tube"
    )
    depth_cm: float | None = Field(
        None, gt=0, le=100, description="of an umbrella, from its rim's plane to its pole"
    )
    back_share: float = Field(
        0, ge=0, le=0.9, description="of an umbrella's light, that leaves the other side"
    )
    deflector_cm: float = Field(0, ge=0, le=100, description="diameter, in the middle of a dish")
    deflector_share: float = Field(
        0.3, ge=0, le=1, description="luminance of the deflector against that of the ring"
    )
    head_cm: tuple[Side, Side] | None = Field(
        None, description="width and length of the flash head of an umbrella or ball, which shades"
    )
    measured_file: str | None = Field(
        None, description="of a measured front: LM-63 or EULUMDAT file beside the kit file"
    )
    shell_cm: float = Field(35, ge=2, le=120, description="depth of the housing behind the front")
    grid_depth_cm: float = Field(5, gt=0, le=20, description="depth of the grid of `grid_deg`")
    mass_kg: float | None = Field(
        None, ge=0, le=30, description="by itself; default: estimated from kind and size"
    )
    usual_loss_stops: tuple[float, float] | None = Field(
        None,
        description="what it usually takes against a standard reflector at 2 m on the axis, least "
        "and most; only for the list of lights",
    )
    source: str = Field("", description=SOURCE)


class Grid(Part):
    """A grid for the front of a modifier, by its cells.

    The angle printed on a grid is that at which its cells close: tangent = cell over depth.
    """

    about: str = Field("", description=ABOUT)
    cells: Literal["square", "hexagon"] = Field(description="fabric grid, or metal honeycomb")
    cell_cm: float = Field(gt=0.1, le=20, description="width of a cell, across its flats")
    depth_cm: float = Field(gt=0.1, le=20, description="depth of a cell")
    open_share: float = Field(
        1, ge=0.5, le=1, description="share of its face that is not wall; the rest takes light"
    )
    source: str = Field("", description=SOURCE)


class KitReading(Part):
    """A real reading, straight ahead of the front, with all other lights off.

    In a small pale room the walls add 0.1 to 0.2 stop at 1 m and 0.3 to 0.6 at 2 m to it. Read
    close, or hold a black card between light and meter for a second flash and note that as well.
    """

    flash: str = Field(description="flash head, a name in the kit")
    modifier: str = Field(description="modifier, a name in the kit")
    power: Power = Field(1.0, description=POWER_WORDS)
    distance_m: float = Field(
        ge=0.2, le=15, description="from the middle of the front to the receptor"
    )
    iso_speed: float = Field(100, ge=6, le=409600, description="set on the meter")
    receptor: Literal["flat", "dome"] = Field("flat", description="which receptor was out")
    f_number: ShownFNumber = Field(description=F_NUMBER_WORDS)
    shaded_f_number: ShownFNumber | None = Field(
        None,
        description="the same with a small black card between light and meter: what the walls "
        "alone give, which is taken off",
    )
    diffusers: int | None = Field(
        None, ge=0, le=3, description="cloths that were on it; default: as many as it comes with"
    )
    grid: str | None = Field(None, description="grid that was on it, a name in the kit")
    grid_deg: float | None = Field(None, ge=5, le=75, description="instead: its angle")
    gel: tuple[str, ...] = Field((), description="gels that were before it, names in the kit")
    nd: float = Field(0, ge=0, le=3, description="neutral sheet that was before it: density")
    date: datetime.date | None = Field(None, description="when")


class Kit(Part):
    """Everything the kit files list."""

    flash: dict[str, Flash] = {}
    modifier: dict[str, Modifier] = {}
    grid: dict[str, Grid] = {}
    gel: dict[str, Gel] = {}
    surface: dict[str, Surface] = {}
    reading: tuple[KitReading, ...] = ()
