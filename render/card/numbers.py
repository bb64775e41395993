"""Every number on the card, under names that stay: `card --json`."""

from __future__ import annotations

from dataclasses import dataclass

from render.card.content import Card
from render.card.first import divided
from render.card.page import PAPERS
from render.card.steps import steps
from render.card.words import room_box
from render.photometry.stops import stops
from render.report import Reading


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A line of the tape table; its fields are keys of the JSON output."""

    mark: str
    name: str
    across_from: str
    across_m: float
    along_from: str
    along_m: float
    height_m: float
    tilt_deg: float | None  # + up; None for what has no front
    turn_deg: float | None  # - to camera left of the camera axis; None for a front that lies flat
    eyes_m: float
    faces: str


@dataclass(frozen=True, slots=True)
class Expected:
    """A reading beside its blank."""

    point: str
    lights: str
    receptor: str
    aim: str
    f_number: float
    shown: str


@dataclass(frozen=True, slots=True)
class PowerRow:
    """A line of the table of lights."""

    mark: str
    name: str
    role: str
    gear: str
    power: str
    power_stops: float  # from full, 0 or negative
    alone: Expected | None  # None for a light that is off
    together: Expected | None


@dataclass(frozen=True, slots=True)
class Numbers:
    """The card as numbers and sentences."""

    scene: str
    paper: str
    scale: int  # drawn 1:scale
    room_m: tuple[float, float, float] | None  # width, depth, height
    focal_length_mm: float | None
    camera_f_number: float | None
    camera_iso_speed: float | None
    shutter_s: float | None
    iso_speed: float  # of the meter
    bounce: bool
    tape: tuple[PlaceRow, ...]
    lights: tuple[PowerRow, ...]
    order: tuple[str, ...]
    wrong: tuple[str, ...]
    cautions: tuple[str, ...]


def numbers(card: Card, paper: str = "a4") -> Numbers:
    """Everything on the card but its drawings and pictures."""
    box, camera = room_box(card.layout), card.setup.scene.camera
    room = None if box is None else tuple(float(each) for each in (box[1] - box[0])[[0, 2, 1]])
    return Numbers(
        scene=card.title,
        paper=paper,
        scale=divided(card, PAPERS[paper]).scale,
        room_m=None if room is None else (room[0], room[1], room[2]),
        focal_length_mm=None if camera is None else camera.focal_length_mm,
        camera_f_number=None if camera is None else camera.f_number,
        camera_iso_speed=None if camera is None else camera.iso_speed,
        shutter_s=None if camera is None else camera.shutter_s,
        iso_speed=card.readings.iso_speed,
        bounce=card.bounce,
        tape=tuple(_places(card)),
        lights=tuple(_powers(card)),
        order=tuple(steps(card)),
        wrong=card.wrong,
        cautions=card.cautions,
    )


def _places(card: Card) -> list[PlaceRow]:
    return [
        PlaceRow(
            mark=row.mark,
            name=row.name,
            across_from=row.across[0],
            across_m=row.across[1],
            along_from=row.along[0],
            along_m=row.along[1],
            height_m=row.height_m,
            tilt_deg=row.tilt_deg,
            turn_deg=row.turn_deg,
            eyes_m=row.eyes_m,
            faces=row.aim,
        )
        for row in card.tape
    ]


def _powers(card: Card) -> list[PowerRow]:
    return [
        PowerRow(
            mark=row.mark,
            name=row.name,
            role=row.role,
            gear=row.gear,
            power=row.power,
            power_stops=float(stops(card.setup.scene.light[row.name].power)),
            alone=_expected(row.alone),
            together=_expected(row.together if row.alone else None),
        )
        for row in card.lights
    ]


def _expected(row: Reading | None) -> Expected | None:
    if row is None:
        return None
    return Expected(row.point, row.lights, row.receptor, row.aim, row.f_number, row.shown)
