"""Where readings were taken: meter points, places of the user's own, or straight ahead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from render.emission import Front
from render.errors import ReadingsError, SceneError
from render.layout import Layout, place
from render.layout.lamps import light_alone
from render.layout.placed import MeterPoint
from render.scenefile import Setup
from render.studio.scene import Point


@dataclass(frozen=True, slots=True)
class Ahead:
    """A place that goes with a light: on its axis, so far from the middle of its front."""

    point: int  # index in the layout's points
    lamp: int
    distance_m: float
    front_m: float  # from the light's position to the plane that `Front` has its middle in


def placed(setup: Setup, file: Path, own: Mapping[str, Point]) -> Layout:
    """The set-up with the places of a file of readings among its meter points.

    Raises ReadingsError for such a place, SceneError, KitError and MeshError for the rest.
    """
    if not own:
        return place(setup)
    points = dict(setup.scene.point)
    if not points:
        points = {point.name: Point(landmark=point.name) for point in place(setup).points}
    for name in own:
        if name in points:
            wanted = "accepted: another name"
            raise ReadingsError(file, f"point.{name}", "is a point of the scene already", wanted)
    scene = setup.scene.model_copy(update={"point": points | dict(own)})
    try:
        return place(replace(setup, scene=scene))
    except SceneError as problem:
        if not problem.key.startswith(tuple(f"point.{name}" for name in own)):
            raise
        raise ReadingsError(file, problem.key, problem.found, problem.accepted) from None


def with_ahead(
    setup: Setup, layout: Layout, wanted: Iterable[tuple[int, float]]
) -> tuple[Layout, tuple[Ahead, ...]]:
    """The layout with places straight ahead of lights as further points, behind the others.

    wanted : lamp and distance [m] of each
    """
    ahead: list[Ahead] = []
    for lamp, distance in wanted:
        light = setup.scene.light[layout.fronts[lamp].name]
        front_m = float(light_alone(setup, light)[0].centre_m[2])
        ahead.append(Ahead(len(layout.points) + len(ahead), lamp, distance, front_m))
    points = tuple(_on_axis(layout.fronts[each.lamp], each) for each in ahead)
    return replace(layout, points=layout.points + points), tuple(ahead)


def carried(layout: Layout, ahead: Iterable[Ahead], lamp: int) -> Layout:
    """The layout with the places ahead of one light where its front is now."""
    points = list(layout.points)
    for each in ahead:
        if each.lamp == lamp:
            points[each.point] = _on_axis(layout.fronts[lamp], each)
    return replace(layout, points=tuple(points))


def _on_axis(front: Front, each: Ahead) -> MeterPoint:
    at = front.centre_m + (each.distance_m - each.front_m) * front.normal
    none = np.zeros((0, 3))
    name = f"{each.distance_m:g} m ahead of {front.name}"
    return MeterPoint(name, at, -front.normal, "free", none, none)
