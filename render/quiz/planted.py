"""Faults planted in the given set-up by a real change of it, as they happen to a photographer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

import numpy as np

from render.errors import TenthstopError
from render.photometry.stops import stops
from render.plan.checks.in_frame import covered_share, solid_things
from render.plan.checks.nose_light import nose_light
from render.quiz.confirm import SHOWS, context_of
from render.quiz.drafts import (
    BARE_FRONT,
    CROWN,
    HAIR,
    HARD,
    Draft,
    drawn_side,
    with_light,
    within,
)
from render.quiz.questions import FAULTS, Fault
from render.quiz.scenes import (
    DrawAgainError,
    Given,
    Stood,
    Tables,
    nose_deg,
    of_light,
    stands_at,
    stood,
)
from render.quiz.scenes import with_keys as set_keys

# Where a fault is likely; places are drawn until it is there, powers are set so that it shows, and
# whether it is alone is computed afterwards. From memory.
PLACES_TRIED = 16
NOSE_DEG, NOSE_UP_DEG, NOSE_M = (98.0, 122.0), (2.0, 22.0), (0.9, 1.2)
NOSE_STOPS = (-2.2, -1.4)  # of the nose's brightest skin, re key
NOSE_APART = -1.15  # stops re key, aimed: brighter, its nose shadow would cross the key's
FRAME_SPARE = 1.5  # so much more of the frame than shows at least
SPILL_M = (1.5, 1.75)  # a key from so far falls off less to the backdrop
KEY_IN_DEG, KEY_IN_UP_DEG, KEY_IN_M = (20.0, 34.0), (4.0, 18.0), (0.6, 0.85)
HAIR_IN_DEG, HAIR_IN_UP_DEG, HAIR_IN_M = (144.0, 168.0), (2.0, 16.0), (0.75, 1.0)
CROSSED_DEG, CROSSED_UP_DEG, CROSSED_M = (38.0, 52.0), (22.0, 34.0), (1.1, 1.3)
CROSSED_RATIO = (1.1, 1.7)  # key to fill
HIGH_DEG, HIGH_UP_DEG, HIGH_M = (2.0, 24.0), (60.0, 70.0), (0.8, 0.95)
OVER_STOPS = (1.4, 2.2)
JITTER_DEG = 4.0  # that the rest of the set is moved, so that no two pictures are alike


def fault_names(given: Given) -> tuple[Fault, ...]:
    """Faults that can be planted in a scene."""
    backdrop = given.setup.scene.backdrop is not None
    return tuple(each for each in FAULTS if each != "spill" or backdrop)


def fault_draft(given: Given, chance: Random, fault: Fault) -> Draft:
    """The scene moved a little, then one fault."""
    tables, side, said = drawn_side(given, chance)
    tables = _moved_a_little(given, chance, tables)
    made = _planted(given, chance, tables, side, fault)
    return replace(made, change=said + made.change, fault=fault)


def _moved_a_little(given: Given, chance: Random, tables: Tables) -> Tables:
    light = tables["light"][given.key]
    if "azimuth_deg" not in light:
        return tables
    azimuth = light["azimuth_deg"] + chance.uniform(-JITTER_DEG, JITTER_DEG)
    up = light.get("elevation_deg", 0.0) + chance.uniform(-JITTER_DEG, JITTER_DEG)
    keys = of_light(given.key, azimuth_deg=round(azimuth, 1), elevation_deg=round(up, 1))
    return set_keys(tables, keys)


def _planted(given: Given, chance: Random, tables: Tables, side: int, fault: Fault) -> Draft:
    key = given.key
    if fault == "spill":
        far = within(chance, SPILL_M)
        keys = of_light(key, aim="backdrop_centre")
        if "distance_m" in tables["light"][key]:
            keys |= of_light(key, distance_m=round(far, 2))
        return Draft(set_keys(tables, keys), f"key from {far:.2f} m turned towards the backdrop")
    if fault == "clipped":
        over = within(chance, OVER_STOPS)
        return Draft(tables, f"key turned up by {over:.1f} stops", over_stops=over)
    if fault == "high":
        at = _at(chance, chance.choice((-1, 1)), HIGH_DEG, HIGH_UP_DEG, HIGH_M)
        at = (nose_deg(tables) + at[0], *at[1:])
        return Draft(set_keys(tables, stands_at(key, *at)), f"key {at[1]:.0f}° up")
    if fault == "crossed":
        return _crossed(given, chance, tables, side)
    if fault == "frame":
        return _in_frame(given, chance, tables, side)
    if fault != "nose":
        raise DrawAgainError(f"no fault {fault}")
    return _on_nose(given, chance, tables, side)


def _in_frame(given: Given, chance: Random, tables: Tables, side: int) -> Draft:
    """The key from before, or a hair light from behind, brought in until it is in the frame."""
    behind = given.behind or "hair"
    name = chance.choice((given.key, behind))

    def tried() -> Draft:
        if name == given.key:
            at = _at(chance, side, KEY_IN_DEG, KEY_IN_UP_DEG, KEY_IN_M)
            words = f"key brought in to {at[2]:.2f} m"
            return Draft(set_keys(tables, stands_at(name, *at)), words)
        at = _at(chance, -side, HAIR_IN_DEG, HAIR_IN_UP_DEG, HAIR_IN_M)
        keys = stands_at(name, *at) | of_light(name, around=CROWN)
        words = f"{name} light brought in behind, {at[2]:.2f} m"
        return Draft(with_light(tables, name, HAIR, keys), words)

    def shows(made: Stood) -> float | None:
        lens = made.layout.view
        assert lens is not None
        thing = solid_things(made.layout)[f"light.{name}"]
        share = 100 * covered_share(lens, thing, (made.rays,))
        return share if share >= FRAME_SPARE * SHOWS["frame"] else None

    return _first(given, tried, shows)[0]


def _on_nose(given: Given, chance: Random, tables: Tables, side: int) -> Draft:
    """A light from behind brought round, as strong as lights the nose but throws no shadow."""
    behind = given.behind or "hair"
    wanted = within(chance, NOSE_STOPS)

    def tried() -> Draft:
        at = _at(chance, -side, NOSE_DEG, NOSE_UP_DEG, NOSE_M)
        at = (nose_deg(tables) + at[0], *at[1:])
        keys = stands_at(behind, *at) | of_light(behind, doors=None)
        words = f"{behind} light brought round to {at[0]:+.0f}°"
        return Draft(with_light(tables, behind, HAIR, keys), words)

    def lead(made: Stood) -> float | None:
        context = context_of(made)
        names = [front.name for front in made.layout.fronts]
        found = [f.value for f in nose_light(context) if f.about == f"light.{behind}"]
        face, k = context.face, names.index(behind)
        rows = [i for i, n in enumerate(face.names) if n.startswith(("nose_tip", "cheek"))]
        aimed = face.at_light_lx_s[rows].max(axis=0)
        if not found or aimed[made.layout.key] <= 0:
            return None
        aside = float(stops(max(aimed[k], np.finfo(float).tiny) / aimed[made.layout.key]))
        # Both follow the power; the key's own share of it is the same in both.
        more = min(wanted - found[0], NOSE_APART - aside)
        return float(2.0**more) if found[0] + more > SHOWS["nose"] else None

    draft, ratio = _first(given, tried, lead)
    return replace(draft, fill=behind, lead=ratio)


def _first(
    given: Given, tried: Callable[[], Draft], holds: Callable[[Stood], float | None]
) -> tuple[Draft, float]:
    """The first of some places at which a fault is there, with its number."""
    for _ in range(PLACES_TRIED):
        draft = tried()
        try:
            made = stood(given.file, draft.tables, given.stands)
        except TenthstopError:
            continue
        number = holds(made)
        if number is not None:
            return draft, number
    raise DrawAgainError("no place was found for the lamp")


def _crossed(given: Given, chance: Random, tables: Tables, side: int) -> Draft:
    """Two bare lamps from either side, nearly as bright as each other."""
    fill, nose = given.with_role("fill") or "fill", nose_deg(tables)
    for name, way in ((given.key, side), (fill, -side)):
        beside, up, far = _at(chance, way, CROSSED_DEG, CROSSED_UP_DEG, CROSSED_M)
        keys = stands_at(name, nose + beside, up, far) | of_light(name, **BARE_FRONT)
        tables = with_light(tables, name, HARD, keys)
    wanted = within(chance, CROSSED_RATIO)
    return Draft(tables, "a second bare lamp from the other side", fill=fill, key_to_fill=wanted)


def _at(
    chance: Random,
    side: int,
    beside: tuple[float, float],
    up: tuple[float, float],
    far: tuple[float, float],
) -> tuple[float, float, float]:
    return side * within(chance, beside), within(chance, up), within(chance, far)
