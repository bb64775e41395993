"""An element's set against the portrait's: light by light, and the camera."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from render.emission import Front, cloth
from render.errors import OutputError
from render.layout import Layout, place
from render.layout.geometry import unit
from render.layout.lamps import role
from render.layout.people import eyes_of
from render.layout.scatter import middle_m
from render.layout.tints import light_tint
from render.photometry.exposure import luminous_exposure_for
from render.plan.elements.cameras import Compared, cameras, compared
from render.predict import aims, direct_exposure
from render.scenefile import Setup

Floats = NDArray[np.float64]
OPTION = "--portrait"

# How far light may differ before it shows in a composite; common practice, no source.
DIRECTION_DEG, SIZE_RATIO, COLOUR_K, LIGHT_STOPS = 15.0, 1.5, 200.0, 1 / 3
LEVEL_DEG = 10.0  # from the horizontal: neither from above nor from below
BEHIND_DEG = 90.0  # beyond it a light is a rim: its stops are listed, not judged
OTHER_ROLE_DEG = 30.0  # so much farther away counts a light of another role
NO_LIGHT = 2.0**-30  # of the key's: a front that is turned away
NO_PAIR_DEG = 60.0  # farther apart, two lights have nothing to do with each other


@dataclass(frozen=True, slots=True)
class Lamp:
    """One light as its subject sees it."""

    name: str
    role: str
    azimuth_deg: float  # 0 from the camera, negative camera left
    elevation_deg: float
    size_deg: float  # across, as a disk of the same solid angle
    stops: float  # its light there over what the camera is set for
    kelvin: float | None  # correlated colour temperature; None far from any white
    way: tuple[float, float, float]  # unit, to the light


@dataclass(frozen=True, slots=True)
class Pair:
    """A light of the element's set and the one of the portrait that it stands for."""

    element: Lamp
    portrait: Lamp
    rows: tuple[Compared, ...]


@dataclass(frozen=True, slots=True)
class Match:
    """Both sets compared; its fields are the keys of the JSON output."""

    portrait: str  # title of the portrait's scene
    lights: tuple[Pair, ...]
    element_alone: tuple[Lamp, ...]  # lights that have no counterpart
    portrait_alone: tuple[Lamp, ...]
    camera: tuple[Compared, ...]


def match(setup: Setup, portrait: Setup) -> Match:
    """Compare an element's set with the set of the portrait that it is to be added to.

    Raises OutputError where one is no such set, SceneError, KitError, MeshError.
    """
    if not setup.scene.element:
        raise OutputError(f"{OPTION}: {setup.file.stem} has no element (accepted: [element.NAME])")
    for each, name in ((setup, "SCENE"), (portrait, OPTION)):
        if each.scene.camera is None:
            found = f"{name}: {each.file.stem} has no camera"
            raise OutputError(f"{found} (accepted: two scenes with a [camera])")
    if portrait.scene.sitter is None:
        found = f"{OPTION}: {portrait.file.stem} has no sitter"
        raise OutputError(f"{found} (accepted: the scene of the portrait)")
    here = place(setup, spots=False)
    eyes = eyes_of(setup.scene.sitter)
    middle = np.mean([middle_m(each, eyes) for each in setup.scene.element.values()], 0)
    own = lamps(setup, here, middle)
    there = lamps(portrait, place(portrait, spots=False), eyes_of(portrait.scene.sitter))
    paired = pairs(own, there)
    return Match(
        portrait=portrait.scene.title,
        lights=tuple(Pair(own[i], there[j], _rows(own[i], there[j])) for i, j in paired),
        element_alone=_left(own, [i for i, _ in paired]),
        portrait_alone=_left(there, [j for _, j in paired]),
        camera=cameras(setup, portrait),
    )


def _left(lights: list[Lamp], taken: list[int]) -> tuple[Lamp, ...]:
    return tuple(lamp for i, lamp in enumerate(lights) if i not in taken)


def lamps(setup: Setup, layout: Layout, subject: Floats) -> list[Lamp]:
    """The lights that fire, as a subject (3,) [m] sees them; what stands in between is left out."""
    camera = setup.scene.camera
    assert camera is not None
    at = subject[None]
    axes = np.stack([aims(at, front) for front in layout.fronts], axis=1)
    light = direct_exposure(layout, at, axes, "flat").unobstructed_lx_s[0]
    constant = setup.scene.meter.c_flat
    key = float(luminous_exposure_for(camera.f_number, camera.iso_speed, constant))
    found = []
    for front, reading in zip(layout.fronts, light, strict=True):
        if front.luminous_energy_lm_s <= 0:
            continue
        x, y, z = (float(part) for part in unit(front.centre_m - subject))
        own = setup.scene.light[front.name]
        found.append(
            Lamp(
                name=front.name,
                role=role(front.name, own),
                azimuth_deg=math.degrees(math.atan2(x, z)),
                elevation_deg=math.degrees(math.asin(max(-1.0, min(1.0, y)))),
                size_deg=size_deg(front, subject),
                stops=math.log2(max(float(reading) / key, NO_LIGHT)),
                kelvin=light_tint(setup, front.name, own).colour_temperature_k,
                way=(x, y, z),
            )
        )
    return found


def size_deg(front: Front, subject: Floats) -> float:
    """How large a front looks [degrees], across a disk of the same solid angle.

    Solid angles of its triangles that turn to the subject; lip, grid and doors are left out.
    Source: A. van Oosterom, J. Strackee, The solid angle of a plane triangle (1983).
    """
    vertices, triangles = cloth(front)
    a, b, c = (vertices[triangles[:, k]] - subject for k in range(3))
    la, lb, lc = (np.linalg.norm(each, axis=1) for each in (a, b, c))
    volume = np.einsum("nk,nk->n", a, np.cross(b, c))
    below = la * lb * lc
    for (one, two), third in (((a, b), lc), ((a, c), lb), ((b, c), la)):
        below = below + np.einsum("nk,nk->n", one, two) * third
    angles = 2 * np.arctan2(volume, below)
    towards = float(-angles[angles < 0].sum())
    solid = towards if towards > 0 else float(angles.sum())
    return math.degrees(2 * math.acos(max(-1.0, 1 - min(solid, 4 * math.pi) / (2 * math.pi))))


def apart_deg(one: Lamp, other: Lamp) -> float:
    """Angle between the directions of two lights [degrees]."""
    return math.degrees(math.acos(max(-1.0, min(1.0, float(np.dot(one.way, other.way))))))


def pairs(own: list[Lamp], there: list[Lamp]) -> list[tuple[int, int]]:
    """Which light stands for which: those of one role, and the nearest, as the whole fits best."""
    if not own or not there:
        return []
    costs = np.array(
        [[apart_deg(a, b) + OTHER_ROLE_DEG * (a.role != b.role) for b in there] for a in own]
    )
    rows, columns = linear_sum_assignment(costs)
    found = [(int(i), int(j)) for i, j in zip(rows, columns, strict=True)]
    return [
        (i, j)
        for i, j in found
        if apart_deg(own[i], there[j]) <= NO_PAIR_DEG or own[i].role == there[j].role != ""
    ]


def _height(elevation_deg: float) -> str:
    if abs(elevation_deg) <= LEVEL_DEG:
        return "level"
    return "from above" if elevation_deg > 0 else "from below"


def _rows(own: Lamp, there: Lamp) -> tuple[Compared, ...]:
    """What differs between two lights, each with its limit."""
    apart = apart_deg(own, there)
    same = _height(own.elevation_deg) == _height(there.elevation_deg)
    sizes = (own.size_deg, there.size_deg)
    ratio = max(sizes) / min(sizes) if min(sizes) > 0 else math.inf
    behind = abs(there.azimuth_deg) > BEHIND_DEG
    rows = [
        Compared("azimuth", own.azimuth_deg, there.azimuth_deg, apart, "deg", DIRECTION_DEG),
        Compared(
            "elevation",
            own.elevation_deg,
            there.elevation_deg,
            own.elevation_deg - there.elevation_deg,
            "deg",
            None,
            "same" if same else "differs",
        ),
        Compared("size", *sizes, ratio, "times", SIZE_RATIO),
        compared("stops", own.stops, there.stops, "stops", None if behind else LIGHT_STOPS),
    ]
    if own.kelvin is not None and there.kelvin is not None:
        rows.append(compared("colour", own.kelvin, there.kelvin, "K", COLOUR_K))
    return tuple(row.judged() for row in rows)
