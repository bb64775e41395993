"""Spots of the comparison: each point looked at through a meter, bare, in its room, as it is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout, MeterPoint
from render.photometry.srgb import luminance
from render.predict import Obstacles
from render.report.held import SECOND_STAGE_SEED
from render.trace import CARD_REFLECTANCE, Readers, Spot, SpotReading, spots
from render.trace.spots import worst_error
from render.trace.stopping import second_stage

Floats = NDArray[np.float64]

MATTE_DIRECT, MATTE_ROOM, AS_SEEN = "matte direct", "matte with room", "as seen"
STAGES = (MATTE_DIRECT, MATTE_ROOM, AS_SEEN)
GRAZING = 0.2  # cosine under which a patch is not spotted from the camera
NEAR_EYE_M = 0.05  # from where a patch is spotted that the camera does not see
BLACK = 1e-6  # reflectance of paper for light that has nothing of its colour
# The plain engine takes some 0.1 ms a path and stops as soon as it is this sure [stops].
PLAIN_TARGETS = {MATTE_DIRECT: 0.004, MATTE_ROOM: 0.02, AS_SEEN: 0.02}
SPOT_SAMPLES = {MATTE_DIRECT: 262144, MATTE_ROOM: 65536, AS_SEEN: 65536}


@dataclass(frozen=True, slots=True)
class Light:
    """Rendered light (n points, m lights) in any one unit, with its standard error."""

    mean: Floats
    error: Floats


@dataclass(frozen=True, slots=True)
class Spotting:
    """How the points of a set are spotted."""

    layout: Layout
    obstacles: Obstacles
    engine: Readers
    seed: int
    precision_stops: float | None  # that a row is to have; None takes the usual samples


def spotted_light(aim: Spotting, stage: str) -> Light:
    """The light of every point in one stage, by spot meter, or by grey card where there is no
    surface. Raises EngineError if the engine fails."""
    targets = [_spot(aim.layout, aim.obstacles, point, stage) for point in aim.layout.points]
    return _incident(aim.layout, _read(aim, targets, stage), stage)


def _read(aim: Spotting, targets: list[Spot], stage: str) -> SpotReading:
    """Spot readings as sure as asked."""
    layout, engine = aim.layout, aim.engine
    read = partial(
        spots,
        layout,
        targets,
        "real" if stage == AS_SEEN else "matte",
        room=stage != MATTE_DIRECT,
        bounces=1 if stage == MATTE_DIRECT else None,
        engine=engine,
    )
    target = PLAIN_TARGETS[stage] if engine.name == "scalar" else None
    found = read(samples=SPOT_SAMPLES[stage], seed=aim.seed, target_se_stops=target)
    if aim.precision_stops is None:
        return found
    energies = np.array([front.luminous_energy_lm_s for front in layout.fronts])
    # A row is the ratio of two spots, each with an error of its own.
    times = worst_error(found, energies) * np.sqrt(2) / aim.precision_stops
    if times <= 1:
        return found
    more = second_stage(found.samples, times)
    return read(samples=more, seed=aim.seed + SECOND_STAGE_SEED)


def _spot(layout: Layout, obstacles: Obstacles, point: MeterPoint, stage: str) -> Spot:
    if point.on == "free" or (point.on == "hair" and stage != AS_SEEN):
        return Spot(point.position_m, point.patch_m, card=(point.position_m, point.normal))
    centre = point.patch_m.mean(0)
    if layout.view is not None:
        eye = layout.view.position_m
        towards = (eye - centre) / np.linalg.norm(eye - centre)
        start = point.patch_m + 1e-3 * point.patch_normals
        # Hair is looked into from the lens, whichever way its outline faces.
        faces = point.on == "hair" or towards @ point.normal > GRAZING
        if faces and (point.on == "hair" or obstacles.clear_sight(eye, start).all()):
            return Spot(eye, point.patch_m)
    return Spot(centre + NEAR_EYE_M * point.normal, point.patch_m)


def _incident(layout: Layout, reading: SpotReading, stage: str) -> Light:
    """Spot luminances as light; matte stages as luminous exposure on the surface [lx·s]."""
    scale = np.ones((len(layout.points), len(layout.fronts)))
    if stage != AS_SEEN:
        paper = next((sheet for sheet in layout.sheets if sheet.kind == "backdrop"), None)
        for i, point in enumerate(layout.points):
            scale[i] = np.pi / CARD_REFLECTANCE
            if point.on == "backdrop" and paper is not None:
                # A coloured paper gives back more of a light of its own colour.
                rho = luminance(np.array(paper.reflectance) * _colours(layout))
                scale[i] = np.pi / np.maximum(rho, BLACK)
    energies = np.array([front.luminous_energy_lm_s for front in layout.fronts])
    gain = scale * energies[None, :]
    return Light(reading.mean * gain, reading.standard_error * gain)


def _colours(layout: Layout) -> Floats:
    """Linear sRGB (lights, 3) of each light, luminance 1."""
    return np.array([front.colour for front in layout.fronts])
