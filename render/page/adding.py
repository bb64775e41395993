"""A light, a panel or a wish more or less, with a sensible start and without loose ends."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from render.errors import SceneError
from render.page.standing import Standing
from render.page.written import places
from render.plan.balance.dials import marking
from render.scenefile import Setup

TABLES = {"light": "light", "panel": "panel", "wish": "wanted"}
NAME = re.compile(r"[\w-]{1,40}", re.ASCII)
# Beside the sitter, a little above the eyes; the fill's usual place. Common practice, no source.
LIGHT_PLACE = {"azimuth_deg": 45, "elevation_deg": 15, "distance_m": 1.3}
PANEL_PLACE = {"azimuth_deg": 80, "distance_m": 0.75}
PANEL = {"kind": "white", "size_cm": [75, 100]}
POWER_BELOW = -3.0  # stops; to be balanced next
STATED_LM_S = 100.0  # of a light where the kit has no flash head
PLACED = ("position_m", "guards", "azimuth_deg")


def added(
    standing: Standing, what: object, name: object, keys: Mapping[str, Any]
) -> dict[str, Any]:
    """The change that adds a thing: its key, and its table; raises SceneError.

    name : for it; None for one that nothing has
    """
    setup = standing.setup
    table = _table(setup, what)
    start = {"light": _light, "panel": _panel, "wish": _wish}[str(what)]
    values = start(standing, keys)
    called = _name(setup, table, name or _usual(str(what), values))
    return {f"{table}.{called}": values}


def removed(setup: Setup, what: object, name: object) -> dict[str, None]:
    """The change that takes a thing away, and all that names it; raises SceneError."""
    table = _table(setup, what)
    if not isinstance(name, str) or name not in getattr(setup.scene, table):
        known = ", ".join(getattr(setup.scene, table)) or "none is there"
        raise SceneError(setup.file, table, f"found {str(name)[:60]}", known)
    gone = {f"{table}.{name}": None}
    if what != "light":
        return gone
    for other, wish in setup.scene.wanted.items():
        if wish.light == name:
            gone[f"wanted.{other}"] = None
    for other, panel in setup.scene.panel.items():
        if panel.guards is not None and panel.guards.light == name:
            gone[f"panel.{other}"] = None
        elif panel.mirrors == name:
            gone[f"panel.{other}.mirrors"] = None
    for other, point in setup.scene.point.items():
        if point.facing == name:
            gone[f"point.{other}.facing"] = None
    return gone


def _table(setup: Setup, what: object) -> str:
    if not isinstance(what, str) or what not in TABLES:
        raise SceneError(setup.file, "what", f"found {str(what)[:60]}", ", ".join(TABLES))
    return TABLES[what]


def _name(setup: Setup, table: str, name: object) -> str:
    """A name that nothing of its kind has; one that was asked for must be free."""
    if not isinstance(name, str) or not NAME.fullmatch(name):
        raise SceneError(
            setup.file, table, f"found the name {str(name)[:60]}", "letters, digits, - and _"
        )
    known = getattr(setup.scene, table)
    names = [name, *(f"{name}_{k}" for k in range(2, len(known) + 3))]
    return next(each for each in names if each not in known)


def _usual(what: str, values: Mapping[str, Any]) -> str:
    """A name by what it is."""
    if what == "wish":
        return str(values["point"])
    return str(values.get("role", "light")) if what == "light" else f"{values['kind']}_panel"


def _light(standing: Standing, keys: Mapping[str, Any]) -> dict[str, Any]:
    """A light like the key, on the other side of the sitter, three stops down."""
    setup, layout = standing.setup, standing.layout
    key = setup.scene.light[layout.fronts[layout.key].name]
    gear: dict[str, Any] = {"luminous_energy_lm_s": STATED_LM_S}
    flash = key.flash or next(iter(setup.kit.flash), None)
    if flash is not None:
        step = setup.kit.flash[flash].power_step_stops
        below = max(POWER_BELOW, -setup.kit.flash[flash].power_range_stops)
        gear = {"flash": flash, "power": marking(below, step)}
    wears = (
        {"modifier": key.modifier} if key.modifier else {"size_cm": list(key.size_cm or (60, 90))}
    )
    if "modifier" in keys or "size_cm" in keys:
        wears = {}
    if "luminous_energy_lm_s" in keys:
        gear = {}
    place: dict[str, Any] = dict(LIGHT_PLACE)
    if float(layout.fronts[layout.key].centre_m[0]) > 0:
        place["azimuth_deg"] = -place["azimuth_deg"]
    return {**gear, **wears, **({} if "position_m" in keys else place), **keys}


def _panel(standing: Standing, keys: Mapping[str, Any]) -> dict[str, Any]:
    """A white panel on the side away from the key."""
    layout = standing.layout
    place: dict[str, Any] = dict(PANEL_PLACE)
    if float(layout.fronts[layout.key].centre_m[0]) > 0:
        place["azimuth_deg"] = -place["azimuth_deg"]
    there = any(key in keys for key in PLACED)
    return {**PANEL, **({} if there else place), **keys}


def _wish(standing: Standing, keys: Mapping[str, Any]) -> dict[str, Any]:
    """A wish for the f-number that the camera is set to."""
    setup = standing.setup
    known = places(setup, standing.layout)
    point = keys.get("point", standing.layout.points[0].name)
    if point not in known:
        raise SceneError(setup.file, "point", f"found {str(point)[:60]}", ", ".join(known))
    if "stops" in keys or "f_number" in keys:
        return {"point": point, **keys}
    camera = setup.scene.camera
    return {"point": point, "f_number": 8 if camera is None else round(camera.f_number, 2), **keys}
