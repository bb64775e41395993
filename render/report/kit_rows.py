"""Rows of the lists of lights; their fields are the keys of JSON and CSV."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FlashRow:
    """A flash head."""

    name: str
    about: str
    stored_energy_ws: float
    efficacy_lm_per_ws: float
    power_range_stops: float
    power_step_stops: float
    colour_temperature_k: float
    colour_drift_k_per_stop: float
    source: str


@dataclass(frozen=True, slots=True)
class ModifierRow:
    """A modifier as it comes, on the head that the list is for."""

    name: str
    about: str
    kind: str
    size_cm: tuple[float, ...]  # width and height, or the diameter
    loss_stops: float  # against the reference, on the axis
    usual_loss_stops: tuple[float, float] | None
    guide_number_m: float
    beam_deg: float | None  # None: all around
    share: float
    diffusers: int
    calibration: str
    source: str


@dataclass(frozen=True, slots=True)
class GridRow:
    """A grid on the modifier that it is for."""

    name: str
    about: str
    cells: str
    cell_cm: float
    depth_cm: float
    open_share: float
    closes_deg: float  # off the axis; the angle printed on it
    on: str  # modifier that loss and beam are for
    at_m: float
    loss_stops: float
    beam_deg: float | None
    spot_m: float | None  # diameter at 2 m
    source: str


@dataclass(frozen=True, slots=True)
class GelRow:
    """A gel on a lamp of 5500 K."""

    name: str
    mired: float | None
    loss_stops: float
    colour_temperature_k: float | None
    colour: tuple[float, float, float]  # linear sRGB of the light, luminance 1


@dataclass(frozen=True, slots=True)
class SurfaceRow:
    """A paper, cloth, paint or floor."""

    name: str
    kind: str
    reflectance: float
    reflectance_range: tuple[float, float] | None
    colour: tuple[float, float, float] | None
    source: str


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading of an own kit beside what typical values would give."""

    file: str
    key: str
    flash: str
    modifier: str
    worn: str
    power: float
    distance_m: float
    iso_speed: float
    receptor: str
    f_number: float
    typical_f_number: float
    difference_stops: float
    walls_stops: float  # that the walls may have added, at most; 0 where they are taken off


@dataclass(frozen=True, slots=True)
class Lights:
    """Everything of the kit; its fields are the keys of the JSON output."""

    head: str
    reference: str
    distance_m: float
    flashes: tuple[FlashRow, ...]
    modifiers: tuple[ModifierRow, ...]
    grids: tuple[GridRow, ...]
    readings: tuple[ReadingRow, ...]
    gels: tuple[GelRow, ...]
    surfaces: tuple[SurfaceRow, ...]
