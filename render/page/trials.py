"""What is tried while a thing is dragged: worked out, told to the tab that asks, not taken."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import Any

from render.errors import SceneError, TenthstopError
from render.layout import place
from render.page.document import Document
from render.page.edits import fitting, scene_keys, tables_with
from render.page.naming import tables_of
from render.page.nearby import quick_findings
from render.page.standing import Standing, all_firing, stand
from render.page.told import set_of
from render.scenefile import Setup

MOST_TABS = 64  # that are remembered; the oldest go


class OvertakenError(TenthstopError):
    """A newer try of the same tab is waiting."""


class Trials:
    """One try at a time, and of each tab the newest only."""

    def __init__(self) -> None:
        self._working = threading.Lock()
        self._counting = threading.Lock()
        self._newest: dict[str, int] = {}
        self._count = 0

    def run(
        self,
        tab: str,
        document: Document,
        standing: Standing,
        keys: Mapping[str, Any],
        bounces: bool,
    ) -> dict[str, Any]:
        """The set with these keys, as `set_of` tells it; raises OvertakenError, SceneError."""
        number = self._queued(tab)
        with self._working:
            if self._newest.get(tab) != number:
                raise OvertakenError("a newer position of the same drag is being worked out")
            tried = stand(
                tried_setup(document, standing.setup, keys), standing, wait=False, trial=True
            )
            return set_of(tried, {}, quick_findings(tried), bounces) | {"findings_ready": False}

    def _queued(self, tab: str) -> int:
        with self._counting:
            self._count += 1
            self._newest.pop(tab, None)
            self._newest[tab] = self._count
            while len(self._newest) > MOST_TABS:
                self._newest.pop(next(iter(self._newest)))
            return self._count


def tried_setup(document: Document, setup: Setup, keys: Mapping[str, Any]) -> Setup:
    """The scene with these keys of the page; raises SceneError, KitError."""
    wanted = scene_keys(setup, keys)
    document.check_keys(wanted)
    try:
        return document.setup(tables_with(tables_of(document.text), wanted))
    except TypeError as problem:
        where = ", ".join(wanted)
        raise SceneError(document.source, where, "cannot stand there", str(problem)) from None


def instead_of(document: Document, standing: Standing, keys: Mapping[str, Any]) -> dict[str, Any]:
    """The same change with what does not fit taken off; empty where nothing helps."""

    def fits(changed: Mapping[str, Any]) -> bool:
        try:
            setup = tried_setup(document, standing.setup, changed)
            place(all_firing(setup), standing.layout.body, spots=False)
        except TenthstopError:
            return False
        return True

    return fitting(standing.setup.scene, keys, fits)
