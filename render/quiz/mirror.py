"""A whole set turned left to right, as in a mirror: lights, panels, sitter, backdrop and room."""

from __future__ import annotations

import copy
from typing import Any

Tables = dict[str, Any]
TURNED_PIECE = ("azimuth_deg", "roll_deg", "offset_m")  # change their sign in a mirror
TURNED_SITTER = ("turn_deg", "head_turn_deg", "head_tilt_deg")
PLACES = ("position_m", "centre_m", "aim", "facing", "gaze")  # x, y, z, or a name
NAMES = ("around", "aim", "facing", "landmark", "point")  # that may be those of landmarks
SIDES = ("left", "right")
WALLS = tuple(f"camera {side}" for side in SIDES)
DOOR_M = 0.8  # width of a door that does not say its own, as in studio/room.py


def mirrored(tables: Tables) -> Tables:
    """Everything that stands in the scene turned left to right; the camera stays."""
    made = copy.deepcopy(tables)
    own = set(made.get("point", {}))
    parts = ("light", "panel", "point", "element", "wanted")
    for piece in [each for part in parts for each in made.get(part, {}).values()]:
        _turn_piece(piece, own)
    for name in ("sitter", "backdrop"):
        _turn_piece(made.get(name, {}), own)
    _change_sign(made.get("sitter", {}), TURNED_SITTER)
    if "room" in made:
        _turn_room(made["room"])
    return made


def _turn_piece(piece: Tables, own: set[str]) -> None:
    """One light, panel, place, wish, sitter or backdrop; `own` are names of the scene's points."""
    for each in (piece, piece.get("boom", {})):
        _change_sign(each, TURNED_PIECE)
    guards = piece.get("guards", {})
    for table, names in ((piece, PLACES), (guards, ("point",))):
        for name in names:
            if isinstance(table.get(name), list | tuple):
                table[name] = [-table[name][0], *table[name][1:]]
    for table in (piece, guards):
        for name in NAMES:
            found = table.get(name)
            if isinstance(found, str) and found not in own:
                table[name] = _other_side(found)
    if "doors" in piece:
        _swap(piece["doors"], "left_deg", "right_deg")


def _other_side(name: str) -> str:
    """A landmark of the other side: "cheek_sitter_left" for "cheek_sitter_right"."""
    stem, _, side = name.rpartition("_")
    return f"{stem}_{SIDES[1 - SIDES.index(side)]}" if stem and side in SIDES else name


def _turn_room(room: Tables) -> None:
    """Side walls, their distance, and the door."""
    _swap(room, "camera_left_wall", "camera_right_wall")
    if "left_wall_m" in room:
        room["left_wall_m"] = room["width_m"] - room["left_wall_m"]
    door = room.get("door")
    if door is None:
        return
    if door["wall"] in WALLS:
        door["wall"] = WALLS[1 - WALLS.index(door["wall"])]
    else:
        door["from_m"] = room["width_m"] - door["from_m"] - door.get("width_m", DOOR_M)


def _swap(table: Tables, one: str, other: str) -> None:
    """What two keys say changes places; a key that is not there is not there under the other."""
    values = {other: table.pop(one, None), one: table.pop(other, None)}
    table |= {key: value for key, value in values.items() if value is not None}


def _change_sign(table: Tables, names: tuple[str, ...]) -> None:
    for name in names:
        if name in table:
            table[name] = -table[name]
