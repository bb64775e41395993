"""The light of every lamp where it is read; what a move cannot change is not metered again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import FLAT, Front, cloth, housing, room_from_local
from render.emission.front import WHITE
from render.layout import Layout
from render.photometry.receptors import Receptor
from render.predict import Obstacles, direct_exposure
from render.predict.station import stations
from render.predict.views import bounds
from render.report.held import ALL, RECEPTORS, Held, lifted
from render.trace import Engine, receptor_readings
from render.trace.digest import digest

Floats = NDArray[np.float64]
DIGITS = 9  # of the light of a lamp, by which it is known again at another power
Place = tuple[bytes, bytes, str]  # of a receptor: where, which way, which


@dataclass(frozen=True, slots=True)
class Metered:
    """Direct light of a layout as it was metered."""

    layout: Layout
    held: tuple[Held, ...]
    obstacles: Obstacles
    direct: Floats  # (held, lights) each at full power [lx·s]; 0 where a light is not asked for
    powers: Floats  # (lights,) shares of full at which the layout's lights shine

    @property
    def standing(self) -> dict[str, int]:
        """Index of each light by the name of how it stands."""
        return _by_standing(self.layout, self.powers)


def direct_light(
    layout: Layout,
    held: Sequence[Held],
    obstacles: Obstacles,
    powers: Floats,
    before: Metered | None = None,
) -> Floats:
    """Direct light (held, lights) at full power [lx·s]; 0 where a receptor is for another lamp.

    powers : (lights,) shares of full at which the layout's lights shine
    before : of a layout with the same sitter, panels and papers: its readings of lights that stand
             as they did, and behind nothing that moved, are taken over
    """
    found = np.zeros((len(held), len(layout.fronts)))
    if not held:
        return found
    spots = np.array([lifted(layout, each) for each in held])
    now, then = _by_standing(layout, powers), {} if before is None else before.standing
    stirred = [layout.fronts[j] for name, j in now.items() if name not in then]
    stirred += [before.layout.fronts[k] for name, k in then.items() if name not in now and before]
    for name, j in now.items():
        front = layout.fronts[j]
        asked = [i for i, each in enumerate(held) if each.lights in (ALL, front.name)]
        known = _known(front, then[name], before, stirred) if before and name in then else {}
        rows = []
        for i in asked:
            value = known.get(_place(spots[i], held[i]))
            if value is None:
                rows.append(i)
            else:
                found[i, j] = value
        found[rows, j] = _metered(layout, j, held, spots, rows, obstacles) / powers[j]
    return found


def _metered(
    layout: Layout,
    j: int,
    held: Sequence[Held],
    spots: Floats,
    rows: Sequence[int],
    obstacles: Obstacles,
) -> Floats:
    """One light at its power in the receptors of these rows (r,) [lx·s]."""
    alone = replace(layout, fronts=(layout.fronts[j],))
    its = Obstacles(
        shared=obstacles.shared,
        lights=(obstacles.lights[j],),
        bulky=(obstacles.bulky[j],),
        thin=(obstacles.thin[j],),
        papers=obstacles.papers,
    )
    found = np.zeros(len(rows))
    for kind in RECEPTORS:
        some = [k for k, i in enumerate(rows) if held[i].receptor == kind]
        if some:
            chosen = [rows[k] for k in some]
            axes = np.array([held[i].axis for i in chosen])
            read = direct_exposure(alone, spots[chosen], axes, kind, obstacles=its)
            found[some] = read.luminous_exposure_lx_s[:, 0]
    return found


def _known(front: Front, k: int, before: Metered, stirred: Iterable[Front]) -> dict[Place, float]:
    """What was read of a light that stands as it did, where nothing that moved can shade it.

    k : its index then
    """
    rows = [i for i, each in enumerate(before.held) if each.lights in (ALL, front.name)]
    spots = np.array([lifted(before.layout, before.held[i]) for i in rows])
    clear = _clear_of(front, spots, [before.held[i] for i in rows], stirred)
    return {
        _place(spot, before.held[i]): float(before.direct[i, k])
        for spot, i, free in zip(spots, rows, clear, strict=True)
        if free
    }


def _clear_of(
    front: Front, spots: Floats, held: Sequence[Held], stirred: Iterable[Front]
) -> NDArray[np.bool_]:
    """Whether no light that moved can stand between the front and each of these places (n,)."""
    shells = [_shell(each) for each in stirred if each.name != front.name]
    if not shells or not len(spots):
        return np.ones(len(spots), bool)
    axes = np.array([each.axis for each in held])
    corners, near = bounds(stations(front, spots, axes, "flat"))
    passing = Obstacles(None, (None,), (tuple(shells),), ((),))
    blocked, _ = passing.may_block(0, spots, room_from_local(front, corners))
    clear: NDArray[np.bool_] = ~(blocked | near)
    return clear


def _shell(front: Front) -> Floats:
    """Vertices (n, 3) of what a light is for the other lights [m]."""
    parts = [housing(front)] if isinstance(front.shape, FLAT) else [housing(front), cloth(front)]
    return np.concatenate([vertices for vertices, _ in parts])


def _by_standing(layout: Layout, powers: Floats) -> dict[str, int]:
    """Index of each light by a name of how it stands and of all it gives at full power."""
    found = {}
    for j, front in enumerate(layout.fronts):
        full = float(f"{front.luminous_energy_lm_s / powers[j]:.{DIGITS}g}")
        found[digest(replace(front, luminous_energy_lm_s=full, colour=WHITE))] = j
    return found


def _place(spot: Floats, held: Held) -> Place:
    return spot.tobytes(), held.axis.tobytes(), held.receptor


def bounced_light(
    layout: Layout,
    held: Sequence[Held],
    powers: Floats,
    engine: Engine,
    samples: int,
    given_up: Callable[[], bool],
) -> Floats | None:
    """Bounced light (held, lights) of every light at full power [lx·s].

    given_up : asked between one receptor and the other; True ends it, and None is returned
    Raises EngineError.
    """
    found = np.zeros((len(held), len(layout.fronts)))
    energies = np.array([front.luminous_energy_lm_s for front in layout.fronts]) / powers
    for kind in RECEPTORS:
        rows = [i for i, each in enumerate(held) if each.receptor == kind]
        if rows:
            spots = np.array([lifted(layout, held[i]) for i in rows])
            axes = np.array([held[i].axis for i in rows])
            found[rows] = _bounced(layout, spots, axes, kind, engine, samples) * energies
        if given_up():
            return None
    return found


def _bounced(
    layout: Layout, spots: Floats, axes: Floats, kind: Receptor, engine: Engine, samples: int
) -> Floats:
    return receptor_readings(layout, spots, axes, kind, engine=engine, samples=samples).bounce
