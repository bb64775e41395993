"""What the scene file says of each thing, for the forms of the page."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np

from render.card.words import spoken
from render.layout import Layout, Sheet
from render.layout.geometry import direction, unit
from render.layout.people import anchors_of, eyes_of, wishes_of
from render.layout.points import backdrop_anchors, cheek_anchors
from render.page.outlook import numbers
from render.scenefile import Setup
from render.sitter.build import MAP_WIDTH, STRANDS
from render.sitter.wishes import settled
from render.studio.light import Light
from render.studio.room import Panel

AXIS_M = 1.0  # to the place that a thing faces, where only its direction is known
NOT_ASKED = ("strand_count", "map_width")
LIGHT_KEYS = (
    *("flash", "size_cm", "grid", "grid_deg", "gel", "nd", "diffusers", "aim", "roll_deg"),
    *("luminous_energy_lm_s", "stand", "bag_kg", "colour_temperature_k"),
)
PANEL_KEYS = (
    *("kind", "back", "size_cm", "opening_deg", "facing", "mirrors", "roll_deg", "reflectance"),
    "back_reflectance",
)


def places(setup: Setup, layout: Layout) -> dict[str, np.ndarray[Any, Any]]:
    """Where every place is (3,) [m] that a light, a panel or a wish can name."""
    body = {} if layout.body is None else anchors_of(layout.body)
    anchors = {name: each.position_m for name, each in body.items()}
    cheeks = cheek_anchors(body, layout.fronts[layout.key])
    anchors |= {name: each.position_m for name, each in cheeks.items()}
    sheet = _hung(layout)
    eyes = eyes_of(setup.scene.sitter)
    if sheet is not None:
        found = backdrop_anchors(sheet, eyes, layout.view)
        anchors |= {name: each.position_m for name, each in found.items()}
    own = {point.name: point.position_m for point in layout.points}
    return {"eyes": eyes} | own | anchors


def _hung(layout: Layout) -> Sheet | None:
    """The backdrop, or the wall that is one."""
    return next((each for each in layout.sheets if each.kind == "backdrop"), None)


def place_rows(setup: Setup, layout: Layout) -> list[dict[str, str]]:
    """Their names, and as they are spoken."""
    return [{"name": name, "words": spoken(name)} for name in places(setup, layout)]


def light_keys(light: Light) -> dict[str, Any]:
    """Gear and aim of a light as its file says them."""
    found = {key: getattr(light, key) for key in LIGHT_KEYS}
    return _plain(found | {"role_written": light.role})


def panel_rows(setup: Setup, layout: Layout) -> list[dict[str, Any]]:
    """Every panel: its leaves, where it stands and faces, and how the file says so."""
    known = places(setup, layout)
    fronts = {front.name: front.centre_m for front in layout.fronts}
    return [
        _panel(
            name,
            panel,
            [sheet for sheet in layout.sheets if (sheet.kind, sheet.name) == ("panel", name)],
            known,
            fronts,
        )
        for name, panel in setup.scene.panel.items()
    ]


def _panel(
    name: str, panel: Panel, leaves: list[Sheet], known: dict[str, Any], fronts: dict[str, Any]
) -> dict[str, Any]:
    first = leaves[0]
    hinge = 0.0 if len(leaves) == 1 else 0.5 * first.width_m * first.right
    centre = first.centre_m + hinge
    axis = unit(np.sum([leaf.normal for leaf in leaves], axis=0))
    at = known.get(panel.around)
    if panel.guards is not None:
        at = fronts[panel.guards.light]
    if panel.facing is not None:
        faced = panel.facing
        at = known.get(faced) if isinstance(faced, str) else np.array(faced)
    reach = AXIS_M if at is None or panel.mirrors else max(0.0, float((at - centre) @ axis))
    wide, high = panel.size_cm
    shape = "" if panel.opening_deg is None else " V-flat"
    return {
        "name": name,
        "words": f"{panel.kind}{shape}, {wide:g} x {high:g} cm",
        "corners": numbers(first.corners_m),
        "leaves": [numbers(leaf.corners_m) for leaf in leaves],
        "centre": numbers(centre),
        "axis": numbers(axis, 6),
        "facing_at": numbers(centre + reach * axis),
        **_plain({key: getattr(panel, key) for key in PANEL_KEYS}),
        **_placed(panel, centre, fronts),
    }


def _placed(panel: Panel, centre: Any, fronts: dict[str, Any]) -> dict[str, Any]:
    """Where a panel stands, in the way of the three that its file uses."""
    found: dict[str, Any] = {"placed": None, "position_m": None, "guards": None}
    if panel.guards is not None:
        start, point = fronts[panel.guards.light], panel.guards.point
        found["guards"] = {
            "light": panel.guards.light,
            "point": point if isinstance(point, str) else list(point),
            "distance_m": panel.guards.distance_m,
            "from": numbers(start),
            "towards": numbers(unit(centre - start), 6),
        }
    elif panel.position_m is not None:
        found["position_m"] = list(panel.position_m)
    elif panel.azimuth_deg is not None and panel.distance_m is not None:
        away = panel.distance_m * direction(panel.azimuth_deg, panel.elevation_deg)
        found["placed"] = {
            "distance_m": panel.distance_m,
            "azimuth_deg": panel.azimuth_deg,
            "elevation_deg": panel.elevation_deg,
            "around": panel.around,
            "around_at": numbers(centre - away),
        }
    return found


def sitter_wishes(setup: Setup) -> dict[str, Any]:
    """The sitter as asked for, their own ways filled in; angles as the scene file says them."""
    sitter = setup.scene.sitter
    assert sitter is not None
    placed = {key: getattr(sitter, key) for key in ("turn_deg", "eyes_height_m", "gaze")}
    head = {
        f"head_{way}_deg": getattr(sitter, f"head_{way}_deg") for way in ("turn", "nod", "tilt")
    }
    if sitter.mesh is not None:
        own = {"mesh": True, "skin_reflectance": sitter.skin_reflectance}
        return _plain(own | placed | head)
    wish = settled(wishes_of(sitter), STRANDS, MAP_WIDTH)
    asked = {f.name: getattr(wish, f.name) for f in fields(wish) if f.name not in NOT_ASKED}
    return _plain(asked | {"mesh": False} | placed | head)


def room_keys(setup: Setup) -> dict[str, Any]:
    """Paint of the room as its file says it."""
    room = setup.scene.room
    assert room is not None
    surfaces = ("walls", "ceiling", "floor", "camera_left_wall", "camera_right_wall")
    more = ("back_wall", "camera_wall", "ambient_lx", "back_wall_m", "left_wall_m")
    return _plain({key: getattr(room, key) for key in (*surfaces, *more)})


def backdrop_keys(setup: Setup) -> dict[str, Any]:
    """The backdrop as its file says it."""
    backdrop = setup.scene.backdrop
    assert backdrop is not None
    return _plain(backdrop.model_dump())


def _plain(keys: dict[str, Any]) -> dict[str, Any]:
    """Tuples as lists, for JSON."""
    return {key: list(each) if isinstance(each, tuple) else each for key, each in keys.items()}
