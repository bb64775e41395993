"""What `balance` would turn, shown on the page before it is applied."""

from __future__ import annotations

from typing import Any

from render.plan.balance.balance import Balance, balance
from render.plan.balance.outcome import PowerRow
from render.scenefile import Setup
from render.trace import Engine

CHANGES_STOPS = 1e-3  # less is no turn of a dial


def balanced(setup: Setup, engine: Engine | None) -> dict[str, Any]:
    """Keys that would change, each wish before and after, and why one is out of reach.

    engine : traces the bounce; None leaves it out, and says so
    Raises SceneError, KitError, MeshError, EngineError.
    """
    if engine is None:
        found = balance(setup, bounce=False, cures=False)
    else:
        found = balance(setup, engine=engine, cures=False)
    rows = [
        {
            "name": row.name,
            "wanted": row.wanted,
            "now": row.now,
            "after": row.shown,
            "off_stops": row.off_stops,
            "met": row.met,
        }
        for row in found.wishes
    ]
    return {
        "keys": {f"light.{row.light}.power": row.shown for row in found.powers if _turned(row)},
        "rows": rows,
        "met": found.met,
        "sentences": _sentences(found, engine is not None),
    }


def _turned(row: PowerRow) -> bool:
    return not row.stays and abs(row.change_stops) > CHANGES_STOPS


def _sentences(found: Balance, bounce: bool) -> list[str]:
    said = [limit.sentence for limit in found.limits]
    if not any(_turned(row) for row in found.powers):
        said.append("The powers are as near to what is wanted as they can be.")
    if not bounce:
        said.append("Without the room's bounce: no engine works here.")
    return said
