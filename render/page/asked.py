"""What the body of a request asks of the session; what is missing or odd is one sentence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from render.errors import TenthstopError
from render.page import operations
from render.page.exports import Download
from render.page.serial import Wished
from render.page.session import Session

MOST_WORD = 80  # letters of a merge word
Said = Mapping[str, Any]


def changed(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    """Set keys."""
    merge = said.get("merge", "")
    if not isinstance(merge, str) or len(merge) > MOST_WORD:
        raise TenthstopError(f"merge: found no word (accepted: at most {MOST_WORD} letters)")
    return operations.change(session, said.get("version"), _keys(said), merge)


def added(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    """Add a light, a panel or a wish."""
    keys = said.get("keys", {})
    if not isinstance(keys, dict):
        raise TenthstopError('keys: accepted: such as {"modifier": "softbox-60x90"}')
    return operations.add(session, said.get("version"), said.get("what"), said.get("name"), keys)


def removed(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    """Take one away."""
    return operations.remove(session, said.get("version"), said.get("what"), said.get("name"))


def tried(session: Session, said: Mapping[str, Any], tab: str) -> dict[str, Any]:
    """Work out what a drag would do."""
    number = said.get("number") if isinstance(said.get("number"), int) else None
    found = operations.trial(session, said.get("version"), _keys(said), tab)
    return {"version": said.get("version"), "number": number, "set": found}


def saved(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    """Write the file, or a new one."""
    return operations.save(session, said.get("version"), said.get("as"), said.get("over") is True)


def merged(session: Session, said: Mapping[str, Any]) -> dict[str, Any]:
    """Bring the file and the page together."""
    take = said.get("take", {})
    if not isinstance(take, dict):
        raise TenthstopError('take: accepted: such as {"light.key.power": "mine"}')
    return operations.merge(session, said.get("version"), take)


def series(session: Session, said: Said) -> Download:
    """A sheet of one key at several values."""
    asked = Wished(
        said.get("key"),
        said.get("values"),
        rebalance=said.get("rebalance") is True,
        feet=said.get("lengths") == "ft",
    )
    return operations.series(session, said.get("version"), asked)


def stopped(session: Session) -> dict[str, Any]:
    """Nobody waits for the series any more."""
    session.sheets.give_up()
    return {"stopped": True}


def card(session: Session, said: Mapping[str, str]) -> Download:
    """The card as it is asked for in the address."""
    return operations.card(session, said.get("paper", "a4"), said.get("look", "1") == "1")


def _keys(said: Mapping[str, Any]) -> Mapping[str, Any]:
    keys = said.get("keys")
    if not isinstance(keys, dict) or not keys:
        raise TenthstopError('keys: found none (accepted: such as {"light.key.power": "1/8"})')
    return keys
