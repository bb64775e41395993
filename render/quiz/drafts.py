"""Set-ups as a photographer might build them, drawn by chance for each kind of question."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Any

from render.quiz.mirror import mirrored
from render.quiz.questions import PATTERNS, Fault
from render.quiz.scenes import (
    DrawAgainError,
    Given,
    Tables,
    nose_deg,
    of_light,
    stands_at,
)
from render.quiz.scenes import with_keys as set_keys

# Where keys stand from the nose (degrees beside it, degrees up), so that a pattern is likely; what
# it is in the end is computed. From the trade's angles; see plan/checks/pattern.py.
KEY_ANGLES: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "butterfly": ((0, 6), (32, 46)),
    "loop": ((14, 34), (24, 38)),
    "45-degree": ((36, 58), (24, 40)),
    "split": ((70, 92), (4, 18)),
    "rim": ((104, 126), (6, 20)),
}
KEY_DISTANCE_M = (0.95, 1.25)
TURNS_DEG = (12.0, 26.0)  # of the head from the camera, so that it has a broad side
SIDE_DEG, SIDE_UP_DEG = (30.0, 78.0), (12.0, 40.0)
RATIO_DEG, RATIO_UP_DEG = (34.0, 56.0), (20.0, 36.0)
RATIOS = (1.5, 12.0)  # K:F that pictures tell apart; deeper shadows all look black
FILL_DEG, FILL_UP_DEG, FILL_M = (8.0, 26.0), (0.0, 14.0), (1.5, 1.9)
PAPERS = (0.05, 0.09, 0.18, 0.36, 0.6)  # black, dark grey, grey, light grey, white; from memory
PAPER_STOPS = (-3.5, 0.0)
HAIR_STOPS = (0.6, 1.4)  # at the crown, aimed at it, over the face; less hardly shows on brown hair
GLOW_STOPS = (-1.2, 0.2)  # of a background light
HAIR = {"flash": "monobloc-400", "modifier": "strip-25x110", "grid_deg": 30, "power": "1/4"}
GLOW = {"flash": "monobloc-400", "modifier": "strip-30x90", "grid_deg": 50, "power": "1/8"}
FILL = {"flash": "monobloc-400", "modifier": "softbox-90x120", "power": "1/16"}
HARD = {"flash": "monobloc-200", "modifier": "reflector-standard", "power": "1/16"}
BARE_FRONT = {"flash": "monobloc-200", "luminous_energy_lm_s": None, "size_cm": None, "grid": None,
              "modifier": "reflector-standard", "grid_deg": None, "diffusers": None,
              "doors": None}  # fmt: skip
CROWN = "crown"


@dataclass(frozen=True, slots=True)
class Goal:
    """What one light alone is to read at a place, over the face reading."""

    light: str
    point: str
    stops: float


@dataclass(frozen=True, slots=True)
class Draft:
    """A set-up whose powers are still to be found."""

    tables: Tables
    change: str
    goals: tuple[Goal, ...] = ()
    fill: str | None = None  # light that is turned with the key, to make the ratio
    key_to_fill: float | None = None
    over_stops: float = 0.0  # that the key is turned up in the end: a fault
    pattern: str | None = None  # that is hoped for
    fault: Fault | None = None
    lead: float | None = None  # instead of a ratio: factor on the fill's power over the key's


def within(chance: Random, ends: tuple[float, float]) -> float:
    """A number between two."""
    return chance.uniform(*ends)


def drawn_side(given: Given, chance: Random) -> tuple[Tables, int, str]:
    """The scene as it is or turned left to right, the side of its key, and that in words."""
    side = chance.choice((-1, 1))
    if side == given.side or len(given.stands) == 1:
        return set_keys(given.tables, {}), given.side, ""
    return mirrored(given.tables), side, "all turned left to right; "


def with_light(tables: Tables, name: str, new: dict[str, Any], keys: dict[str, Any]) -> Tables:
    """A light placed anew, or brought in where the scene has none of that name."""
    if name not in tables["light"]:
        tables = set_keys(tables, {f"light.{name}": dict(new)})
    return set_keys(tables, keys | of_light(name, on=None))


def pattern_draft(given: Given, chance: Random, target: str) -> Draft:
    """The head turned, the key put where that pattern is likely."""
    tables, side, said = drawn_side(given, chance)
    turned = chance.choice((-1, 1)) * within(chance, TURNS_DEG)
    tables = set_keys(tables, {"sitter.turn_deg": round(turned - _head_turn(tables), 1)})
    beside, up = KEY_ANGLES[target]
    azimuth = nose_deg(tables) + side * within(chance, beside)
    said += f"head turned {turned:+.0f}°"
    return _key_at(given, chance, tables, (azimuth, within(chance, up)), said, pattern=target)


def _head_turn(tables: Tables) -> float:
    return float(tables["sitter"].get("head_turn_deg", 0.0))


def _key_at(
    given: Given,
    chance: Random,
    tables: Tables,
    angles: tuple[float, float],
    said: str,
    **more: Any,
) -> Draft:
    distance = within(chance, KEY_DISTANCE_M)
    tables = set_keys(tables, stands_at(given.key, *angles, distance))
    words = f"key at {angles[0]:+.0f}°, {angles[1]:.0f}° up, {distance:.2f} m"
    said = f"{said.removesuffix('; ')}; {words}" if said else words
    return Draft(tables, said, **more)


def side_draft(given: Given, chance: Random) -> Draft:
    """The key somewhere to one side of the camera."""
    tables, side, said = drawn_side(given, chance)
    angles = side * within(chance, SIDE_DEG), within(chance, SIDE_UP_DEG)
    return _key_at(given, chance, tables, angles, said)


def ratio_draft(given: Given, chance: Random) -> Draft:
    """The key beside the nose, a fill light near the camera that makes a ratio."""
    tables, side, said = drawn_side(given, chance)
    angles = nose_deg(tables) + side * within(chance, RATIO_DEG), within(chance, RATIO_UP_DEG)
    made = _key_at(given, chance, tables, angles, said)
    low, high = RATIOS
    wanted = low * (high / low) ** chance.random()
    fill = given.with_role("fill") or "fill"
    place = (
        -side * within(chance, FILL_DEG),
        within(chance, FILL_UP_DEG),
        within(chance, FILL_M),
    )
    tables = with_light(made.tables, fill, FILL, stands_at(fill, *place))
    return Draft(tables, f"{made.change}; a fill light", fill=fill, key_to_fill=wanted)


def lights_draft(given: Given, chance: Random, wanted: int) -> Draft:
    """So many lights on: the key, and of hair, rim and background light what is drawn."""
    tables, side, said = drawn_side(given, chance)
    extra: list[str] = []
    others = ["hair", "rim", *(["background"] if "backdrop" in tables else [])]
    chosen = chance.sample(others, min(wanted - 1, len(others)))
    names = {each: given.with_role(each) or each for each in others}
    goals: list[Goal] = []
    off = {f"light.{n}.on": False for n in tables["light"] if n != given.key}
    tables = set_keys(tables, off)
    for each in others:
        if each not in chosen:
            continue
        name = names[each]
        tables, goal = _added(tables, name, each, side, chance)
        goals.append(goal)
        extra.append(each)
    said = f"{said}lit by key{''.join(f', {each}' for each in extra)}"
    return Draft(tables, said, tuple(goals))


def _added(tables: Tables, name: str, role: str, side: int, chance: Random) -> tuple[Tables, Goal]:
    """A hair, rim or background light switched on, brought in where there is none."""
    here = name in tables["light"]
    if role == "background":
        stops = within(chance, GLOW_STOPS)
        keys = {} if here else _glow_keys(tables, name, chance)
        return with_light(tables, name, GLOW, keys), Goal(name, "backdrop_centre", stops)
    # A hair light stands opposite the key, a rim light on its side.
    across = -side if role == "hair" else side
    azimuth = across * within(chance, (130, 142))
    keys = {} if here else stands_at(name, azimuth, within(chance, (24, 32)), 1.0)
    if not here:
        keys |= of_light(name, around=CROWN)
    return with_light(tables, name, HAIR, keys), Goal(name, CROWN, within(chance, HAIR_STOPS))


def _glow_keys(tables: Tables, name: str, chance: Random) -> Tables:
    """A strip low behind the sitter, out of the picture, turned to the backdrop."""
    gap = float(tables["backdrop"].get("gap_m", 1.3))
    x = chance.choice((-1, 1)) * within(chance, (0.9, 1.0))
    keys = of_light(name, position_m=[round(x, 2), 1.0, round(-0.37 * gap, 2)])
    return keys | of_light(name, aim="backdrop_centre", azimuth_deg=None, distance_m=None)


def backdrop_draft(given: Given, chance: Random) -> Draft:
    """Another paper, and a light on it or not."""
    if "backdrop" not in given.tables:
        raise DrawAgainError("the scene has no backdrop")
    tables, _, said = drawn_side(given, chance)
    paper = chance.choice(PAPERS)
    tables = set_keys(tables, {"backdrop.colour": None, "backdrop.reflectance": paper})
    said += f"paper of {100 * paper:.0f} %"
    name = given.with_role("background") or "background"
    if chance.random() < 0.35:
        if name in tables["light"]:
            tables = set_keys(tables, of_light(name, on=False))
        return Draft(tables, f"{said}; no light of its own on it")
    keys = {} if name in tables["light"] else _glow_keys(tables, name, chance)
    tables = with_light(tables, name, GLOW, keys)
    stops = within(chance, PAPER_STOPS)
    return Draft(tables, f"{said}; a background light", (Goal(name, "backdrop_centre", stops),))


def pattern_targets(chance: Random) -> tuple[str, ...]:
    """All patterns, in any order."""
    return tuple(chance.sample(PATTERNS, len(PATTERNS)))
