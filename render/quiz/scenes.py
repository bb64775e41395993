"""The given scene and set-ups made from it: keys set anew, or the whole turned left to right."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from render.errors import SceneError
from render.layout import Layout, place
from render.layout.lamps import key_index, role
from render.photometry.stops import show_power
from render.plan.checks.finding import Context
from render.plan.checks.pattern import no_pattern
from render.scenefile import Setup
from render.scenefile.read import as_setup, scene_tables

Tables = dict[str, Any]
TURNED_LIGHT = ("azimuth_deg", "roll_deg")  # change their sign in a mirror
TURNED_SITTER = ("turn_deg", "head_turn_deg", "head_tilt_deg")


class DrawAgainError(Exception):
    """A set-up that was drawn is no question, and why."""


@dataclass(frozen=True, slots=True)
class Given:
    """The scene that a teacher gives."""

    file: Path
    tables: Tables
    setup: Setup
    layout: Layout

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
    return Given(file, tables, setup, layout)


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


def mirrored(tables: Tables) -> Tables:
    """Lights, panels, points and sitter turned left to right; the room stays."""
    made = copy.deepcopy(tables)
    pieces = [each for part in ("light", "panel", "point") for each in made.get(part, {}).values()]
    for piece in pieces:
        for each in (piece, piece.get("boom", {})):
            _turn(each, TURNED_LIGHT)
        for name in ("position_m", "aim", "facing"):
            if isinstance(piece.get(name), list):
                piece[name] = [-piece[name][0], *piece[name][1:]]
        if "doors" in piece:
            left, right = (piece["doors"].pop(f"{side}_deg", None) for side in ("left", "right"))
            sides = {"left_deg": right, "right_deg": left}
            piece["doors"] |= {side: found for side, found in sides.items() if found is not None}
    _turn(made.get("sitter", {}), TURNED_SITTER)
    return made


def _turn(table: Tables, names: tuple[str, ...]) -> None:
    for name in names:
        if name in table:
            table[name] = -table[name]


def nose_deg(tables: Tables) -> float:
    """Where the nose points, from the camera's direction; negative camera left."""
    sitter = tables.get("sitter", {})
    return float(sitter.get("turn_deg", 0.0)) + float(sitter.get("head_turn_deg", 0.0))


def dial(setup: Setup, name: str, share: float) -> str:
    """A power as the dial says it; raises DrawAgainError for one that the head has not."""
    flash = setup.scene.light[name].flash
    least = 0.0 if flash is None else 2.0 ** -setup.kit.flash[flash].power_range_stops
    if not least <= share <= 1.0:
        raise DrawAgainError(f"the {name} light would need a power that its dial has not")
    return show_power(share)


@dataclass(frozen=True, slots=True)
class Stood:
    """A set-up as it stands."""

    setup: Setup
    layout: Layout


def stood(file: Path, tables: Tables, before: Stood) -> Stood:
    """Read and place a set-up; the sitter is made anew only where he sits otherwise than before.

    Raises SceneError, KitError, MeshError.
    """
    setup = as_setup(file, tables)
    old, new = before.setup.scene, setup.scene
    same = old.sitter == new.sitter and old.camera == new.camera
    return Stood(setup, place(setup, before.layout.body if same else None, spots=False))
