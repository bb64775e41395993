"""Predicted against rendered: the same light, worked out twice, in three stages."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import nullcontext
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout import Layout, MeterPoint, place
from render.photometry.stops import stops
from render.predict import DirectExposure, Obstacles, spot_exposure
from render.report.held import FAINTEST_STOPS, reference
from render.report.readings import meter_speed
from render.report.sight import in_sight
from render.report.spotting import (
    MATTE_DIRECT,
    STAGES,
    Light,
    Spotting,
    spotted_light,
)
from render.scenefile import Setup
from render.trace import Engine, Readers

Floats = NDArray[np.float64]

AGREES_STOPS = 0.02  # the first stage must agree within this ...
ERROR_STOPS = 0.007  # ... known at least this well
WHOLLY_SEEN = 0.999  # rows below this visible share are marked as partly hidden
BARELY_SEEN = 0.02  # below this share the penumbra, not the light, decides: not judged
DARK_STOPS = -16.0  # re key; a row this far down is no light at all


@dataclass(frozen=True, slots=True)
class Row:
    """One light at one point in one stage; its fields are the keys of the JSON output."""

    point: str
    light: str
    re_point: str
    re_light: str
    stage: str
    predicted_stops: float
    rendered_stops: float | None  # None where nothing was rendered at all
    standard_error_stops: float | None
    difference_stops: float | None  # rendered minus predicted
    visible_fraction: float
    judged: bool
    verdict: str  # "agrees", "differs", "too noisy"; "" where not judged


@dataclass(frozen=True, slots=True)
class Comparison:
    """All rows of a scene, and how well the reference itself agrees in absolute light."""

    scene: str
    iso_speed: float
    engine: str
    re_point: str
    re_light: str
    reference_difference_stops: float  # rendered minus predicted, matte direct, no ratio taken
    reference_error_stops: float
    rows: tuple[Row, ...]
    in_sight: tuple[str, ...]  # points that the camera sees

    @property
    def agrees(self) -> bool:
        """True if every judged row agrees."""
        return all(row.verdict == "agrees" for row in self.rows if row.judged)


def compare(
    setup: Setup,
    *,
    engine: str | Readers = "auto",
    seed: int = 0,
    stages: Collection[str] = STAGES,
    precision_stops: float | None = None,
) -> Comparison:
    """Compare the predicted and the rendered stops of every light at every point.

    *Matte direct*: grey diffuse sitter, light straight from the fronts; must agree. *Matte with
    room*: the same with all bounces. *As seen*: real skin, hair and cloth, from the camera.

    engine : "auto", "cuda", "llvm" or "scalar", one that runs already, or a crew of workers
    stages : to render, always with the first
    precision_stops : standard error that rows of every light that counts at its spot are to have,
             in every stage; where the usual samples do not reach it, a fresh stage is traced
    Raises SceneError, KitError, MeshError, EngineError.
    """
    # The engine starts while the scene is placed and predicted.
    with Engine(engine) if isinstance(engine, str) else nullcontext(engine) as running:
        layout = place(setup)
        obstacles = Obstacles.of(layout)
        predicted = spot_exposure(layout, _surfaces(layout), obstacles=obstacles)
        aim = Spotting(layout, obstacles, running, seed, precision_stops)
        rendered = {
            stage: spotted_light(aim, stage)
            for stage in STAGES
            if stage == MATTE_DIRECT or stage in stages
        }
        engine_name = running.name
    base_point, key = _reference(setup, layout, predicted), layout.key
    rows = [
        row
        for stage, light in rendered.items()
        for row in _rows(layout, predicted, light, base_point, stage)
    ]
    first = rendered[MATTE_DIRECT]
    base = predicted.luminous_exposure_lx_s[base_point, key]
    return Comparison(
        setup.scene.title,
        meter_speed(setup),
        engine_name,
        layout.points[base_point].name,
        layout.fronts[key].name,
        float(stops(first.mean[base_point, key] / base)),
        float(first.error[base_point, key] / first.mean[base_point, key] / np.log(2)),
        tuple(rows),
        in_sight(layout, obstacles),
    )


def _reference(setup: Setup, layout: Layout, predicted: DirectExposure) -> int:
    """The reference point by direct light; raises SceneError if the key reaches none."""
    lit = predicted.luminous_exposure_lx_s[:, layout.key]
    if lit.max() <= 0:
        name = layout.fronts[layout.key].name
        raise SceneError(
            setup.file,
            f"light.{name}",
            "reaches no point of the comparison",
            "a point that it lights",
        )
    return reference(layout, lit)


def _surfaces(layout: Layout) -> list[MeterPoint]:
    """The points with the patches that matte stages read: none on hair, a card stands there."""
    none = np.zeros((0, 3))
    return [
        replace(point, patch_m=none, patch_normals=none) if point.on == "hair" else point
        for point in layout.points
    ]


def _rows(
    layout: Layout, predicted: DirectExposure, light: Light, base_point: int, stage: str
) -> list[Row]:
    exposure, key = predicted.luminous_exposure_lx_s, layout.key
    base, rendered_base = exposure[base_point, key], light.mean[base_point, key]
    base_error = light.error[base_point, key] / rendered_base if rendered_base > 0 else 0.0
    rows = []
    for i, point in enumerate(layout.points):
        for j, front in enumerate(layout.fronts):
            # Where no light falls straight there is nothing to compare.
            if (i, j) == (base_point, key) or exposure[i, j] <= base * 2.0**DARK_STOPS:
                continue
            visible = float(predicted.visible_fraction[i, j])
            expected = float(stops(exposure[i, j] / base))
            found, error, difference = None, None, None
            if light.mean[i, j] > 0 and rendered_base > 0:
                found = float(stops(light.mean[i, j] / rendered_base))
                share = np.hypot(light.error[i, j] / light.mean[i, j], base_error)
                error = float(share / np.log(2))
                difference = found - expected
            judged = stage == MATTE_DIRECT and visible >= BARELY_SEEN and expected >= FAINTEST_STOPS
            rows.append(
                Row(
                    point.name,
                    front.name,
                    layout.points[base_point].name,
                    layout.fronts[key].name,
                    stage,
                    expected,
                    found,
                    error,
                    difference,
                    visible,
                    judged,
                    verdict(difference, error) if judged else "",
                )
            )
    return rows


def verdict(difference_stops: float | None, error_stops: float | None) -> str:
    """What a judged row says: "agrees", "differs" or "too noisy"."""
    if difference_stops is None or error_stops is None:
        return "differs"
    if error_stops > ERROR_STOPS:
        return "too noisy"
    return "agrees" if abs(difference_stops) <= AGREES_STOPS else "differs"
