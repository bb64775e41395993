"""What may make a place darker or lighter: things to change, each more and more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.lamps import role
from render.plan.changes import fronts, lights, room
from render.plan.changes.room import BACKGROUND
from render.plan.changes.settings import Family, family
from render.plan.who.goals import DARK_STOPS, Goal
from render.plan.who.taken import Taken
from render.report.held import ALL

Floats = NDArray[np.float64]

NEARER, FARTHER = (0.85, 0.7), (1.2, 1.4)  # of the key's distance
FURTHER_M, CLOSER_M = (0.25, 0.5, 1.0), (-0.25, -0.5)  # added to the gap
AHEAD_M = (0.4, 0.8)  # of the face, for a key that is feathered
ROUND_DEG = (15.0, 30.0)  # a light moved round the sitter
# Width and height [cm], and share of the way from the light to the place, small to large.
FLAGS = ((45, 90, 0.2), (45, 90, 0.35), (60, 90, 0.35), (90, 120, 0.35))
MIDDLE = "backdrop_centre"  # landmark that flags keep light from where more of a backdrop counts
SPARE_STOPS = (0.0, 0.1)  # beyond what is needed, for the clicks of both dials
MOST_SHEET_STOPS = 3.0  # a neutral sheet of density 0.9; common practice, no source
PAPERS_TRIED = 2
TOLD_SHARE = 0.05  # of a place's light; a part below it is not worth a change
STRAYS = ("hair", "rim", "key")  # roles of lights whose work is elsewhere: they are not turned


@dataclass(frozen=True, slots=True)
class _Lit:
    """The light of a goal's places, on the average."""

    taken: Taken
    goal: Goal
    names: list[str]
    straight: Floats  # (lights,) shares of the light
    share: Floats  # (lights,) the same with what the room gives back
    on: str  # what the places lie on

    @property
    def point(self) -> str:
        """Where flags keep light from."""
        rows = self.goal.rows
        if self.on == "backdrop" and len(rows) > 1:
            return MIDDLE
        return self.taken.layout.points[self.taken.held[rows[0]].point].name

    @property
    def strongest(self) -> str:
        """The light that gives most, but for a background light on the backdrop."""
        own = [
            s * (not _is_backgrounds(self, n)) for n, s in zip(self.names, self.share, strict=True)
        ]
        return self.names[int(np.argmax(own))] if max(own) > 0 else ""

    @property
    def key(self) -> str:
        return self.names[self.taken.layout.key]

    @property
    def keyed(self) -> tuple[str, ...]:
        """The key, where it is fired for the goal."""
        fired = self.taken.held[self.goal.rows[0]].lights
        return (self.key,) if fired in (ALL, self.key) else ()


def families(taken: Taken, goal: Goal, gain: float) -> tuple[Family, ...]:
    """Changes that may bring the places of a goal to what is wanted.

    gain : what their light has to be multiplied by; below 1 is darker
    """
    lit = _lit(taken, goal)
    found = _darker(lit, gain) if gain < 1 else _lighter(lit, gain)
    return tuple(each for each in found if each)


def _lit(taken: Taken, goal: Goal) -> _Lit:
    rows, names = list(goal.rows), [front.name for front in taken.layout.fronts]
    fired = taken.held[rows[0]].lights
    chosen = np.array([fired in (ALL, name) for name in names])
    straight = taken.measured.direct[rows].mean(0) * chosen
    light = straight + taken.measured.bounce[rows].mean(0) * chosen
    total = max(float(light.sum()), 1e-30)
    on = taken.layout.points[taken.held[rows[0]].point].on
    return _Lit(taken, goal, names, straight / total, light / total, on)


def _is_backgrounds(lit: _Lit, name: str) -> bool:
    """Whether a place is the backdrop and a light is there for it."""
    light = lit.taken.setup.scene.light[name]
    return lit.on == "backdrop" and role(name, light) == BACKGROUND


def _darker(lit: _Lit, gain: float) -> list[Family]:
    setup, name = lit.taken.setup, lit.strongest
    found = [_dimmed(lit, j, gain) for j in range(len(lit.names))]
    if name:
        feathered = [lights.feathered(setup, name, m) for m in AHEAD_M] if name == lit.key else []
        found.append(family(lights.aimed_back(setup, name), *feathered))
        found.append(fronts.grids(setup, name))
    for each, part in zip(lit.names, lit.straight, strict=True):
        if part > TOLD_SHARE and not _is_backgrounds(lit, each):
            found.append(_flags(lit, each))
    if lit.on in ("skin", "cloth", "hair"):
        found.append(family(room.beside(setup, "black", _shadow_side(lit))))
        found.append(_moved_round(lit, name, ROUND_DEG))
    else:
        found += [_at(lit, each, NEARER) for each in lit.keyed]
    if lit.on == "backdrop":
        found.append(family(*(room.gap(setup, more) for more in FURTHER_M)))
    found += [_papers(lit, gain), _cloths(lit)]
    return found


def _lighter(lit: _Lit, gain: float) -> list[Family]:
    setup, name = lit.taken.setup, lit.strongest
    found = [_brightened(lit, j, gain) for j in range(len(lit.names))]
    found += [
        family(lights.switched_on(setup, each))
        for j, each in enumerate(lit.names)
        if _turns(lit, j)
    ]
    found += [
        family(fronts.ungridded(setup, each)) for each in dict.fromkeys((name, *lit.keyed)) if each
    ]
    if lit.on in ("skin", "cloth", "hair"):
        found.append(family(room.beside(setup, "white", _shadow_side(lit))))
        found.append(_moved_round(lit, name, tuple(-each for each in ROUND_DEG)))
    else:
        found += [_at(lit, each, FARTHER) for each in lit.keyed]
    if lit.on == "backdrop":
        found.append(family(*(room.gap(setup, more) for more in CLOSER_M)))
    return [*found, _papers(lit, gain)]


def _turns(lit: _Lit, j: int) -> bool:
    """Whether a light may be turned for these places: it lights them, and that is its work."""
    name = lit.names[j]
    own = role(name, lit.taken.setup.scene.light[name])
    alone = lit.taken.held[lit.goal.rows[0]].lights == name
    return j != lit.taken.layout.key and (alone or own not in STRAYS)


def _needed(lit: _Lit, j: int, gain: float) -> float | None:
    """Stops by which one light has to change for the whole to change by a gain.

    The key is turned the other way for the same face reading, which takes part of it back; None
    where it takes back all.
    """
    face, key = lit.taken.light(-1), lit.taken.layout.key
    given_back = float(lit.share[key] * face[j] / face[key]) if face[key] > 0 else 0.0
    left = float(lit.share[j]) - given_back
    if left <= TOLD_SHARE:
        return None
    return float(np.log2(max(1 + (gain - 1) / left, 2.0**DARK_STOPS)))


def _dimmed(lit: _Lit, j: int, gain: float) -> Family:
    """A light turned down as far as it must be, or can be; then a neutral sheet before it."""
    setup, name, more = lit.taken.setup, lit.names[j], _needed(lit, j, gain)
    if more is None or not _turns(lit, j):
        return ()
    steps = [lights.turned(setup, name, more - spare) for spare in SPARE_STOPS]
    return _once(family(*steps, fronts.neutral_sheet(setup, name, min(-more, MOST_SHEET_STOPS))))


def _brightened(lit: _Lit, j: int, gain: float) -> Family:
    """A light turned up as far as it must be, or can be; then a stronger head."""
    setup, name, more = lit.taken.setup, lit.names[j], _needed(lit, j, gain)
    if more is None or not _turns(lit, j):
        return ()
    steps = [lights.turned(setup, name, more + spare) for spare in SPARE_STOPS]
    lacks = more + float(np.log2(setup.scene.light[name].power))
    stronger = lights.other_head(setup, name, lacks) if lacks > 0 else None
    return _once(family(*steps, fronts.no_sheet(setup, name), stronger))


def _once(steps: Family) -> Family:
    return tuple({step.name: step for step in steps}.values())


def _flags(lit: _Lit, name: str) -> Family:
    """Black flags between a light and the place, from small to large."""
    taken = lit.taken
    points = [taken.layout.points[taken.held[row].point].position_m for row in lit.goal.rows]
    front = next(front for front in taken.layout.fronts if front.name == name)
    length = float(np.linalg.norm(np.mean(points, axis=0) - front.centre_m))
    return family(
        *(
            room.flag(taken.setup, name, lit.point, (wide, high), share * length)
            for wide, high, share in FLAGS
        )
    )


def _shadow_side(lit: _Lit) -> float:
    """Across the room, away from the key; + is camera right."""
    return -float(lit.taken.layout.fronts[lit.taken.layout.key].centre_m[0]) or 1.0


def _at(lit: _Lit, name: str, factors: tuple[float, ...]) -> Family:
    return family(*(lights.distance(lit.taken.setup, name, each) for each in factors))


def _moved_round(lit: _Lit, name: str, degrees: tuple[float, ...]) -> Family:
    if not name:
        return ()
    return family(*(lights.moved_round(lit.taken.setup, name, each) for each in degrees))


def _papers(lit: _Lit, gain: float) -> Family:
    if not lit.goal.tone:
        return ()
    # A wish asks for the tone that it has on this paper; a word asks for another.
    wished = lit.goal.said.startswith("wanted.")
    places = lit.taken.layout.points if wished else ()
    points = [point.name for point in places if point.on == "backdrop"]
    return room.papers(lit.taken.setup, points, gain, PAPERS_TRIED)


def _cloths(lit: _Lit) -> Family:
    """Black cloth over the surface of the room that gives the places most, then over two."""
    read, rows = lit.taken.measured, list(lit.goal.rows)
    fired = list(lit.taken.held[rows[0]].chosen(lit.taken.layout))
    light = read.by_surface[rows][:, fired].sum((0, 1))
    total = float((read.direct + read.bounce)[rows][:, fired].sum())
    given = sorted(zip(light, read.surfaces, strict=True), reverse=True)
    walls = [n for part, n in given if n in room.SURFACES and part > TOLD_SHARE * total][:2]
    return family(*(room.draped(lit.taken.setup, walls[:k]) for k in range(1, len(walls) + 1)))
