"""Where lights end on whole centimetres and degrees, so that the dials' clicks come right."""

from __future__ import annotations

import itertools

from render.plan.balance.search import AS_GOOD, Place, Search, place_at
from render.plan.balance.solve import cost, on_clicks
from render.plan.balance.unknowns import STEPS, settable


def rounded_place(search: Search, best: Place) -> Place:
    """The place that tape and protractor can set whose clicks come nearest to the wishes.

    A light that moves anyway may stand a step to either side of the nearest one.
    """
    around = [
        [value]
        if value == each.now
        else list(dict.fromkeys(settable(each, value + k * STEPS[each.part]) for k in (0, -1, 1)))
        for each, value in zip(search.moves, best.values, strict=True)
    ]
    stand: list[tuple[float, int, Place]] = []
    for values in itertools.product(*around):
        found = place_at(search, values)
        if found is None:
            continue
        stand.append((_on_dials(found), len(stand), found))
        if stand[-1][0] <= best.missed + AS_GOOD:
            break
    return min(stand)[2] if stand else best


def _on_dials(place: Place) -> float:
    """What is missed on the dials' clicks [stops²]."""
    return cost(place.problem, on_clicks(place.problem, place.below))
