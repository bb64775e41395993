"""Changes as the page says them, as keys of the scene file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from render.errors import SceneError
from render.layout.lamps import role
from render.page.markings import with_markings
from render.scenefile import Setup
from render.studio.scene import Scene

MOVED = "sitter.moved_m"
PLACES = 3  # decimals of metres in the file
MOST_M = 15.0
# What a light wears or is, that may not fit another front, head or place; dropped on request.
LOOSE = {
    "modifier": ("size_cm", "grid", "grid_deg", "diffusers", "doors"),
    "size_cm": ("modifier", "grid", "grid_deg", "diffusers", "doors"),
    "flash": ("luminous_energy_lm_s",),
    "luminous_energy_lm_s": ("flash",),
    "grid": ("grid_deg",),
    "grid_deg": ("grid",),
    "position_m": ("azimuth_deg", "elevation_deg", "distance_m"),
    "distance_m": ("position_m",),
    "facing": ("mirrors",),
    "mirrors": ("facing",),
}


def scene_keys(setup: Setup, keys: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of the page as keys of the scene file; raises SceneError.

    "light.NAME.power_stops" becomes a marking of its dial, "sitter.moved_m" the keys of what the
    sitter moves towards or away from.
    """
    found = with_markings(setup, keys)
    if MOVED in found:
        moved = _moved(setup, _vector(setup, found.pop(MOVED)))
        found = moved | found
    return found


def _vector(setup: Setup, value: object) -> tuple[float, float, float]:
    numbers = value if isinstance(value, list) and len(value) == len("xyz") else []
    good = [isinstance(n, int | float) and not isinstance(n, bool) for n in numbers]
    if not numbers or not all(good) or not all(abs(n) <= MOST_M for n in numbers):
        wanted = f"[x, y, z] in metres, each at most {MOST_M:g}"
        raise SceneError(setup.file, MOVED, f"found {str(value)[:60]}", wanted)
    x, y, z = (float(n) for n in numbers)
    return x, y, z


def _moved(setup: Setup, by: tuple[float, float, float]) -> dict[str, Any]:
    """Sitter, camera and what is placed around the sitter go along; the rest of the room stays.

    A light on the backdrop that is placed in metres stays with it.
    """
    scene, (x, y, z) = setup.scene, by
    found: dict[str, Any] = {}
    if scene.sitter is not None and y:
        found["sitter.eyes_height_m"] = round(scene.sitter.eyes_height_m + y, PLACES)
    room, backdrop = scene.room, scene.backdrop
    if backdrop is not None:
        found["backdrop.gap_m"] = round(backdrop.gap_m + z, PLACES)
        if backdrop.kind != "wall" and x:
            found["backdrop.offset_m"] = round(backdrop.offset_m - x, PLACES)
    if room is not None:
        left = room.width_m / 2 if room.left_wall_m is None else room.left_wall_m
        found["room.left_wall_m"] = round(left + x, PLACES)
        if room.back_wall_m is not None or backdrop is None:
            back = room.depth_m / 2 if room.back_wall_m is None else room.back_wall_m
            found["room.back_wall_m"] = round(back + z, PLACES)
    for name, light in scene.light.items():
        if role(name, light) == "background" and light.position_m is not None:
            found |= _left_behind(f"light.{name}.position_m", light.position_m, x, z)
            if light.aim is not None and not isinstance(light.aim, str):
                found |= _left_behind(f"light.{name}.aim", light.aim, x, z)
    return found


def _left_behind(key: str, at: Iterable[float], x: float, z: float) -> dict[str, list[float]]:
    """A place of the room, about a sitter who has moved."""
    right, up, ahead = at
    return {key: [round(right - x, PLACES), up, round(ahead - z, PLACES)]}


def tables_with(tables: dict[str, Any], keys: Mapping[str, Any]) -> dict[str, Any]:
    """Tables of a scene with new values, as `rewritten` would put them into its text.

    Raises TypeError where a key leads through what is no table.
    """
    found = dict(tables)
    for key, value in keys.items():
        *path, last = key.split(".")
        table = found
        for name in path:
            inner = table.get(name, {})
            if not isinstance(inner, dict):
                raise TypeError(f"{name} is no table")
            table[name] = dict(inner)
            table = table[name]
        if value is None:
            table.pop(last, None)
        else:
            table[last] = value
    return found


def fitting(
    scene: Scene, keys: Mapping[str, Any], fits: Callable[[Mapping[str, Any]], bool]
) -> dict[str, Any]:
    """The same change with what does not fit taken off; empty where that does not help.

    fits : whether a change can be made
    """
    loose = [
        f"{table}.{name}.{other}"
        for key in keys
        for table, name, last in [_parted(key)]
        for other in LOOSE.get(last, ())
        if f"{table}.{name}.{other}" not in keys and _has(scene, table, name, other)
    ]
    every = dict.fromkeys(loose)
    if not loose or not fits({**keys, **every}):
        return {}
    for key in loose:  # nothing is taken off that fits
        fewer = {other: None for other in every if other != key}
        if fits({**keys, **fewer}):
            every = fewer
    return {**keys, **every}


def _parted(key: str) -> tuple[str, str, str]:
    parts = key.split(".")
    return (parts[0], parts[1], parts[2]) if len(parts) == len("abc") else ("", "", "")


def _has(scene: Scene, table: str, name: str, key: str) -> bool:
    part = getattr(scene, table, {}).get(name) if table in ("light", "panel") else None
    return part is not None and key in part.model_fields_set
