"""Two versions of one scene brought together, key by key, where they do not contradict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from render.page.naming import tables_of
from render.scenefile.write import rewritten

Tables = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Both:
    """A key that two people have set to different things; None where it is not there."""

    key: str
    mine: Any
    theirs: Any
    was: Any


def changes(before: Tables, after: Tables, at: str = "") -> dict[str, Any]:
    """Keys that differ, with what they hold after; None for one that is gone, a dict for a table
    that is new."""
    found: dict[str, Any] = {}
    for name in [*after, *(name for name in before if name not in after)]:
        key, old, new = f"{at}{name}", before.get(name), after.get(name)
        if isinstance(old, dict) and isinstance(new, dict):
            found |= changes(old, new, f"{key}.")
        elif old != new:
            found[key] = new
    return found


def contradictions(base: Tables, mine: Tables, theirs: Tables) -> list[Both]:
    """Where two versions of the same tables cannot both be had."""
    own, other = changes(base, mine), changes(base, theirs)
    keys: dict[str, None] = {}
    for key in own:
        for their in other:
            if key == their or their.startswith(f"{key}.") or key.startswith(f"{their}."):
                keys.setdefault(min(key, their, key=len))
    found = [Both(key, held(mine, key), held(theirs, key), held(base, key)) for key in keys]
    return [each for each in found if each.mine != each.theirs]


def merged(base: str, mine: str, theirs: str, take: Mapping[str, str]) -> str:
    """Their text with my changes in it.

    take : "mine" or "theirs" for every key of `contradictions`
    Raises TOMLDecodeError, and TOMLKitError for what cannot be put into their text.
    """
    was, own, other = (tables_of(text) for text in (base, mine, theirs))
    both = contradictions(was, own, other)
    keys = {
        key: value
        for key, value in changes(was, own).items()
        if value != held(other, key) and not any(_within(key, each.key) for each in both)
    }
    keys |= {each.key: each.mine for each in both if take[each.key] == "mine"}
    return rewritten(theirs, keys)


def held(tables: Tables, key: str) -> Any:
    """What tables hold at a key, None where that is not there."""
    found: Any = tables
    for name in key.split("."):
        if not isinstance(found, dict) or name not in found:
            return None
        found = found[name]
    return found


def _within(key: str, other: str) -> bool:
    return key == other or key.startswith(f"{other}.") or other.startswith(f"{key}.")
