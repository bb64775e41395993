"""One measuring run: receptors at the places that are asked about, and one at the face."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.errors import OutputError, SceneError
from render.layout import Layout, place
from render.photometry.exposure import f_number, linear_value
from render.photometry.srgb import luminance
from render.photometry.stops import stops
from render.plan.who.tones import Tone, tone_of
from render.predict import Obstacles, Still
from render.report.held import ALL, Held, Measured, hold, measure, reference
from render.report.readings import meter_speed, wished_readings
from render.scenefile import Setup
from render.studio.scene import Point
from render.trace import Engine
from render.trace.surfaces import surface_name

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Taken:
    """One measuring run: receptors at the places that are asked about, the face as the last."""

    setup: Setup
    layout: Layout
    held: tuple[Held, ...]  # places, then wishes in the scene's order, then the face
    measured: Measured
    places: int = 0  # how many are asked about
    still: Still | None = None  # what stands where it is while lights change

    @property
    def names(self) -> tuple[str, ...]:
        """Meter points that are asked about."""
        return tuple(self.layout.points[held.point].name for held in self.held[: self.places])

    def light(self, row: int) -> Floats:
        """Light of each lamp (lights,) on a receptor [lx·s], of those that fire for it."""
        found = np.zeros(len(self.layout.fronts))
        chosen = list(self.held[row].chosen(self.layout))
        found[chosen] = (self.measured.direct + self.measured.bounce)[row, chosen]
        return found

    def above(self, luminous_exposure: float, row: int) -> float | None:
        """Stops of a part of a reading over the face reading, as f-numbers tell it."""
        face = float(self.light(-1).sum()) / constant_of(self.setup, self.held[-1])
        here = luminous_exposure / constant_of(self.setup, self.held[row])
        return float(stops(here / face)) if here > 0 and face > 0 else None


def take(
    setup: Setup,
    names: Sequence[str],
    engine: Engine | None,
    samples: int,
    layout: Layout | None = None,
    still: Still | None = None,
) -> Taken:
    """Hold receptors at places, for wishes and at the face, and measure once.

    names, engine, samples : as of `who`
    layout                 : the set-up if it is placed already
    still                  : of a set-up that differs in lights and walls alone
    Raises OutputError for a name that is no place.
    """
    layout = place(setup) if layout is None else layout
    here = [point.name for point in layout.points]
    if missing := [name for name in names if name not in here]:
        layout = _with_points(setup, layout, missing)
    face = face_held(setup, layout)
    at = {point.name: i for i, point in enumerate(layout.points)}
    chosen = list(dict.fromkeys(names)) or _usual(layout)
    if not names and face.lights == ALL:
        chosen = [name for name in chosen if at[name] != face.point]
    places = [hold(layout, at[name], ALL, None, None) for name in chosen]
    held = (*places, *wished_readings(setup, layout), face)
    still = still or Still.of(layout)
    obstacles = Obstacles.of(layout, still)
    measured = measure(layout, list(held), engine, samples, obstacles)
    return Taken(setup, layout, held, measured, len(chosen), still)


def _with_points(setup: Setup, layout: Layout, missing: list[str]) -> Layout:
    """The set-up placed with landmarks as further meter points."""
    here = [point.name for point in layout.points]
    points = {name: setup.scene.point.get(name, Point(landmark=name)) for name in here}
    points |= {name: Point(landmark=name) for name in missing}
    try:
        scene = setup.scene.model_copy(update={"point": points})
        return place(replace(setup, scene=scene), layout.body)
    except SceneError as problem:
        name = next((n for n in missing if problem.key == f"point.{n}.landmark"), None)
        if name is None:
            raise
        known = {*problem.accepted.removeprefix("one of ").split(", "), *setup.scene.point}
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
        meant = f"did you mean {near[0]}? " if near else ""
        words = f"{meant}accepted: {', '.join(sorted(known))}"
        raise OutputError(f'POINT: found "{name}", no place that is known here ({words})') from None


def _usual(layout: Layout) -> list[str]:
    on_backdrop = [point.name for point in layout.points if point.on == "backdrop"]
    return on_backdrop or [point.name for point in layout.points]


def face_held(setup: Setup, layout: Layout) -> Held:
    """The reading that the camera is set by: the first wish with an f-number, else the cheek."""
    held = wished_readings(setup, layout)
    for wish, each in zip(setup.scene.wanted.values(), held, strict=True):
        if wish.f_number is not None and layout.points[each.point].on != "backdrop":
            return each
    key = layout.fronts[layout.key].centre_m
    # Without light yet, the nearest place stands for the brightest.
    near = np.array([1 / np.sum((key - point.position_m) ** 2) for point in layout.points])
    off_paper = np.array([point.on != "backdrop" for point in layout.points])
    return hold(layout, reference(layout, near * (off_paper | ~off_paper.any())), ALL, None, None)


def relit(taken: Taken, setup: Setup, front: Front) -> Taken:
    """The run as it is with another output of its key; light adds, so nothing is traced.

    front : the key's, or one like it, with its new output and colour
    """
    fronts, k = list(taken.layout.fronts), taken.layout.key
    before, after = fronts[k].luminous_energy_lm_s, front.luminous_energy_lm_s
    fronts[k] = replace(fronts[k], luminous_energy_lm_s=after, colour=front.colour)
    gain = np.ones(len(fronts))
    gain[k] = after / before if before > 0 else 1.0
    read = taken.measured
    read = replace(
        read,
        direct=read.direct * gain,
        clear=read.clear * gain,
        bounce=read.bounce * gain,
        error=read.error * gain,
        by_surface=read.by_surface * gain[:, None],
        by_surface_error=read.by_surface_error * gain[:, None],
    )
    layout = replace(taken.layout, fronts=tuple(fronts))
    return replace(taken, setup=setup, layout=layout, measured=read)


def exposed(taken: Taken) -> tuple[float, float]:
    """f-number and ISO speed of the picture: the camera's, else as the face reads."""
    camera = taken.setup.scene.camera
    if camera is not None:
        return camera.f_number, camera.iso_speed
    light = float(taken.light(-1).sum())
    return reading_of(taken.setup, light, taken.held[-1]), meter_speed(taken.setup)


def constant_of(setup: Setup, held: Held) -> float:
    meter = setup.scene.meter
    return meter.c_flat if held.receptor == "flat" else meter.c_dome


def reading_of(setup: Setup, luminous_exposure: float, held: Held) -> float:
    return float(f_number(luminous_exposure, meter_speed(setup), constant_of(setup, held)))


def tone_at(taken: Taken, row: int) -> Tone:
    """How the backdrop comes out at a place.

    Straight light has its lamp's colour; what the room gives back has that colour times the
    colour of the surface it comes from last, at its traced luminance.
    """
    layout, read = taken.layout, taken.measured
    sheet = next(each for each in layout.sheets if each.kind == "backdrop")
    tints = {surface_name(each): np.array(each.reflectance) for each in layout.sheets}
    light = np.zeros(3)
    for j in taken.held[row].chosen(layout):
        colour = np.array(layout.fronts[j].colour)
        light += read.direct[row, j] * colour
        for k, surface in enumerate(read.surfaces):
            tinted = colour * tints.get(surface, np.ones(3))
            bright = float(luminance(tinted))
            own = float(luminance(colour))
            light += read.by_surface[row, j, k] * (tinted * own / bright if bright > 0 else colour)
    number, speed = exposed(taken)
    leaves = np.array(sheet.reflectance) * light / np.pi
    return tone_of(linear_value(leaves, speed, number, taken.setup.scene.meter.c_flat))
