"""The given scene, set-ups made from it by keys set anew, and each as it stands in the room."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from embreex.rtcore_scene import EmbreeScene

from render.errors import SceneError, TenthstopError
from render.layout import Layout, place
from render.layout.lamps import key_index, role
from render.photometry.stops import show_power
from render.plan.checks.finding import Context
from render.plan.checks.pattern import no_pattern
from render.predict import Still
from render.predict.touch import body_meshes, ray_scene
from render.quiz.mirror import mirrored
from render.scenefile import Setup
from render.scenefile.read import as_setup, scene_tables

Tables = dict[str, Any]
DIAL_SLACK = 1e-9  # of rounding


class DrawAgainError(Exception):
    """A set-up that was drawn is no question, and why."""


@dataclass(frozen=True)
class Stood:
    """A set-up as it stands; what rays need of sitter, panels and backdrop is built when asked."""

    setup: Setup
    layout: Layout
    before: Stood | None = None  # in which the same sitter sits in the same way

    @cached_property
    def rays(self) -> EmbreeScene | None:
        """The sitter ready for rays."""
        if self.before is not None:
            return self.before.rays
        return ray_scene(body_meshes(self.layout.body))

    @cached_property
    def still(self) -> Still:
        """What stands where it is while lights change."""
        if self.before is not None and _same_sheets(self.layout, self.before.layout):
            return self.before.still
        return Still.of(self.layout)


@dataclass(frozen=True, slots=True)
class Given:
    """The scene that a teacher gives."""

    file: Path
    tables: Tables
    setup: Setup
    layout: Layout
    stands: tuple[Stood, ...]  # as it is, and turned left to right where that can be

    @property
    def key(self) -> str:
        """Name of the key."""
        lights = self.setup.scene.light
        return list(lights)[key_index(lights)]

    @property
    def side(self) -> int:
        """Side of the camera on which its key stands: -1 camera left, 1 camera right."""
        return 1 if self.layout.fronts[self.layout.key].centre_m[0] > 0 else -1

    @property
    def behind(self) -> str | None:
        """Name of its hair or rim light, if it has one."""
        return self.with_role("hair", "rim")

    def with_role(self, *roles: str) -> str | None:
        """Name of the first light that is for one of these."""
        lights = self.setup.scene.light.items()
        return next((name for name, each in lights if role(name, each) in roles), None)


def given_scene(path: str | Path) -> Given:
    """Read and place a scene; raises SceneError where a quiz cannot be made of it."""
    file, tables = scene_tables(path)
    setup = as_setup(file, tables)
    for table, found in (("sitter", setup.scene.sitter), ("camera", setup.scene.camera)):
        if found is None:
            raise SceneError(file, table, "missing", f"a quiz shows pictures: a [{table}] table")
    layout = place(setup, spots=False)
    context = Context(setup)
    vars(context)["layout"] = layout
    if lacking := no_pattern(context):
        raise SceneError(file, "sitter", lacking, "a sitter with a face, for a quiz")
    own = Stood(setup, layout)
    stands = [own]
    with suppress(TenthstopError):  # a set that only stands as it is
        stands.append(stood(file, mirrored(tables), stands))
    return Given(file, tables, setup, layout, tuple(stands))


def with_keys(tables: Tables, values: Mapping[str, Any]) -> Tables:
    """Tables with some keys set, "light.key.azimuth_deg" -> -30; None takes a key out."""
    made = copy.deepcopy(tables)
    for key, value in values.items():
        *path, last = key.split(".")
        table = made
        for name in path:
            table = table.setdefault(name, {})
        if value is None:
            table.pop(last, None)
        else:
            table[last] = value
    return made


def of_light(name: str, **values: Any) -> dict[str, Any]:
    """Keys of one light."""
    return {f"light.{name}.{key}": value for key, value in values.items()}


def stands_at(name: str, azimuth_deg: float, elevation_deg: float, distance_m: float) -> Tables:
    """Keys that put a light somewhere round the eyes and aim it at them."""
    return of_light(
        name,
        position_m=None,
        around=None,
        aim=None,
        azimuth_deg=round(azimuth_deg, 1),
        elevation_deg=round(elevation_deg, 1),
        distance_m=round(distance_m, 2),
    )


def nose_deg(tables: Tables) -> float:
    """Where the nose points, from the camera's direction; negative camera left."""
    sitter = tables.get("sitter", {})
    return float(sitter.get("turn_deg", 0.0)) + float(sitter.get("head_turn_deg", 0.0))


def dial_range(setup: Setup, name: str) -> tuple[float, float]:
    """Least and greatest power of a light, as shares of all."""
    flash = setup.scene.light[name].flash
    return 0.0 if flash is None else 2.0 ** -setup.kit.flash[flash].power_range_stops, 1.0


def dial(setup: Setup, name: str, share: float) -> str:
    """A power as the dial says it; raises DrawAgainError for one that the head has not."""
    least, most = dial_range(setup, name)
    if not (1 - DIAL_SLACK) * least <= share <= (1 + DIAL_SLACK) * most:
        raise DrawAgainError(f"the {name} light would need a power that its dial has not")
    return show_power(min(max(share, least), most))


def stood(file: Path, tables: Tables, before: Sequence[Stood]) -> Stood:
    """Read and place a set-up; the sitter is made anew only where none before sits like that.

    Raises SceneError, KitError, MeshError.
    """
    setup = as_setup(file, tables)
    alike = next((each for each in before if _seat_of(each.setup) == _seat_of(setup)), None)
    if alike is None:
        return Stood(setup, place(setup, spots=False))
    layout = place(setup, alike.layout.body, spots=False)
    return Stood(setup, layout, alike.before or alike)


def _seat_of(setup: Setup) -> tuple[Any, ...]:
    """What decides how a sitter sits and looks."""
    camera = setup.scene.camera
    seen_from = None if camera is None else (camera.distance_m, camera.height_m)
    return setup.scene.sitter, seen_from


def _same_sheets(one: Layout, other: Layout) -> bool:
    """Whether panels and backdrop of two set-ups stand alike."""
    sheets = [[s for s in each.sheets if s.kind != "wall"] for each in (one, other)]
    return len(sheets[0]) == len(sheets[1]) and all(
        a.bend == b.bend
        and (a.width_m, a.height_m) == (b.width_m, b.height_m)
        and np.array_equal([a.centre_m, a.right, a.up], [b.centre_m, b.right, b.up])
        for a, b in zip(*sheets, strict=True)
    )
