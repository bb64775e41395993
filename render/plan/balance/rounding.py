"""Where lights end on whole centimetres and degrees, so that powers make up for what that costs."""

from __future__ import annotations

import itertools

from render.plan.balance.search import AS_GOOD, Place, Search, place_at
from render.plan.balance.unknowns import STEPS, settable


def rounded_place(search: Search, best: Place) -> Place:
    """The place that tape and protractor can set whose powers come nearest to the wishes."""
    plain = tuple(
        value if value == each.now else settable(each, value)
        for each, value in zip(search.moves, best.values, strict=True)
    )
    found = place_at(search, plain)
    if found is not None and found.missed <= best.missed + AS_GOOD:
        return found
    around = [
        sorted({settable(each, value + k * STEPS[each.part]) for k in (-1, 0, 1)})
        for each, value in zip(search.moves, plain, strict=True)
    ]
    near = [place_at(search, values) for values in itertools.product(*around)]
    stand = [each for each in near if each is not None]
    return min(stand, key=lambda each: each.missed) if stand else best
