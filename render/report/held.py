"""The receptor in the hand: where it is held, which way it looks, and the light that reaches it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.layout.geometry import unit
from render.predict import DirectExposure, Obstacles, direct_exposure
from render.studio.scene import Aim, Receptor
from render.trace import Readers, ReceptorReading, receptor_readings
from render.trace.stopping import second_stage

Floats = NDArray[np.float64]
Places = list[tuple[Floats, Floats]]  # of each receptor: positions (k, 3) [m], unit axes (k, 3)

ALL = "all"
RECEPTORS: tuple[Receptor, ...] = ("flat", "dome")
SECOND_STAGE_SEED = 1 << 16  # beyond the seeds of a pilot's chunks
FAINTEST_STOPS = -8.0  # from the key; fainter light is beyond any print
METER_LIFT_M = 2e-3  # the receptor sits just off the skin that it measures


@dataclass(frozen=True, slots=True)
class Held:
    """A receptor held at a meter point, for one light or for all."""

    point: int
    lights: str
    receptor: Receptor
    aim: Aim
    axis: Floats  # (3,) unit

    def chosen(self, layout: Layout) -> Iterator[int]:
        """Indices of the lights that fire for this reading."""
        for j, front in enumerate(layout.fronts):
            if self.lights in (ALL, front.name):
                yield j


@dataclass(frozen=True, slots=True)
class Measured:
    """Luminous exposures of receptors (n) by lights (m) [lx·s]."""

    direct: Floats  # (n, m)
    clear: Floats  # (n, m) direct light if nothing stood in between
    bounce: Floats  # (n, m)
    error: Floats  # (n, m) standard error
    surfaces: tuple[str, ...]  # what bounce can come from last; empty where none is traced
    by_surface: Floats  # (n, m, surfaces) the bounce, surface by surface
    by_surface_error: Floats
    obstacles: Obstacles | None = None  # that shadow rays were sent against


def hold(
    layout: Layout, point: int, lights: str, receptor: Receptor | None, aim: Aim | None
) -> Held:
    """Hold a receptor as asked, or as the trade does.

    One light alone: flat, aimed at the light. All together: dome, aimed at the camera, but flat
    along the backdrop's normal on a backdrop. Common practice, no source.
    """
    place = layout.points[point]
    if lights == ALL and place.on == "backdrop":
        usual_receptor, usual_aim = "flat", "normal"
    elif lights == ALL:
        usual_receptor, usual_aim = "dome", "camera" if layout.view is not None else "normal"
    else:
        usual_receptor, usual_aim = "flat", "light"
    chosen: Receptor = receptor or ("flat" if usual_receptor == "flat" else "dome")
    way: Aim = aim or _AIMS[usual_aim]
    names = [front.name for front in layout.fronts]
    target = layout.fronts[layout.key if lights == ALL else names.index(lights)].centre_m
    if way == "camera" and layout.view is not None:
        target = layout.view.position_m
    axis = place.normal if way == "normal" else unit(target - place.position_m)
    return Held(point, lights, chosen, way, axis)


_AIMS: dict[str, Aim] = {"light": "light", "camera": "camera", "normal": "normal"}


def reference(layout: Layout, key_light: Floats) -> int:
    """The point that ratios refer to: the key cheek, else the first; where that one is dark, the
    brightest.

    key_light : (points,) float  light of the key at each point, any one unit
    """
    names = [point.name for point in layout.points]
    usual = names.index("key_cheek") if "key_cheek" in names else 0
    brightest = int(np.argmax(key_light))
    dark = key_light[usual] <= key_light[brightest] * 2.0**FAINTEST_STOPS
    return brightest if dark else usual


def measure(
    layout: Layout,
    held: list[Held],
    engine: Readers | None,
    samples: int,
    obstacles: Obstacles | None = None,
    seed: int = 0,
) -> Measured:
    """Direct light in closed form, bounce traced backwards, for receptors held in the room.

    engine    : None leaves the bounce out
    obstacles : of the layout, where they are known already
    """
    positions = np.array([lifted(layout, each) for each in held])
    rows = [np.array([each.receptor == kind for each in held]) for kind in RECEPTORS]
    axes = np.array([each.axis for each in held])
    places = [(positions[each], axes[each]) for each in rows]
    # The tracer is another process: closed forms are worked out beside it.
    with ThreadPoolExecutor(1) as aside:
        straight = aside.submit(_straight, layout, places, obstacles)
        bounces = [] if engine is None else _bounces(layout, places, engine, samples, seed)
        exposures, known = straight.result()
    shape = (len(held), len(layout.fronts))
    direct, clear, bounced, error = (np.zeros(shape) for _ in range(4))
    surfaces = next((each.surfaces for each in bounces if each), ())
    apart, doubt_apart = (np.zeros((*shape, len(surfaces))) for _ in range(2))
    energies = np.array([front.luminous_energy_lm_s for front in layout.fronts])
    for chosen, exposure in zip(rows, exposures, strict=True):
        if exposure is not None:
            direct[chosen] = exposure.luminous_exposure_lx_s
            clear[chosen] = exposure.unobstructed_lx_s
            # Where nothing arrives, an error in stops is infinite and says nothing.
            doubt = np.where(direct[chosen] > 0, exposure.error_stops, 0.0)
            error[chosen] = doubt * np.log(2) * direct[chosen]
    for chosen, traced in zip(rows, bounces, strict=False):
        if traced is not None:
            apart[chosen] = traced.by_surface * energies[:, None]
            doubt_apart[chosen] = traced.by_surface_error * energies[:, None]
            bounced[chosen] = traced.bounce * energies
            error[chosen] = np.hypot(error[chosen], traced.bounce_error * energies)
    return Measured(direct, clear, bounced, error, surfaces, apart, doubt_apart, known)


def measure_until(
    layout: Layout,
    held: list[Held],
    engine: Readers | None,
    samples: int,
    precision_stops: float | None = None,
) -> Measured:
    """Light of receptors (see `measure`), and on request every reading as sure as asked.

    Where the first samples are not enough they count as a pilot alone: they tell how many a fresh
    stage takes, which nobody looks at on the way (see `stopping.second_stage`).
    """
    found = measure(layout, held, engine, samples)
    if engine is None or precision_stops is None:
        return found
    errors = [reading_error(layout, each, found, i) for i, each in enumerate(held)]
    times = max(errors, default=0.0) / precision_stops
    if times <= 1:
        return found
    return measure(
        layout, held, engine, second_stage(samples, times), found.obstacles, SECOND_STAGE_SEED
    )


def reading_error(layout: Layout, held: Held, measured: Measured, i: int) -> float:
    """Standard error of the reading in row i [stops]; 0 where no light is."""
    chosen = list(held.chosen(layout))
    total = float((measured.direct[i, chosen] + measured.bounce[i, chosen]).sum())
    error = float(np.sqrt((measured.error[i, chosen] ** 2).sum()))
    return error / total / float(np.log(2)) if total > 0 else 0.0


def _straight(
    layout: Layout, places: Places, obstacles: Obstacles | None
) -> tuple[list[DirectExposure | None], Obstacles]:
    """Direct light at the places of each receptor, None where there are none; the obstacles."""
    known = obstacles or Obstacles.of(layout)
    found = [
        direct_exposure(layout, *place, kind, obstacles=known) if len(place[0]) else None
        for kind, place in zip(RECEPTORS, places, strict=True)
    ]
    return found, known


def _bounces(
    layout: Layout, places: Places, engine: Readers, samples: int, seed: int
) -> list[ReceptorReading | None]:
    """Traced light at the places of each receptor, None where there are none."""
    return [
        receptor_readings(layout, *place, kind, engine=engine, samples=samples, seed=seed)
        if len(place[0])
        else None
        for kind, place in zip(RECEPTORS, places, strict=True)
    ]


def lifted(layout: Layout, held: Held) -> Floats:
    """Where the receptor itself is (3,) [m], just off the surface that it measures."""
    place = layout.points[held.point]
    lift = METER_LIFT_M if place.on in ("skin", "cloth", "backdrop") else 0.0
    return place.position_m + lift * place.normal
