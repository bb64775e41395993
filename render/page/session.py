"""What the page is about: one scene being edited, its readings, its pictures, and who is told."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import TenthstopError
from render.page.balanced import balanced
from render.page.document import ConflictError, Document
from render.page.events import Hub
from render.page.latest import Latest
from render.page.markings import with_markings
from render.page.pictures import Pictures, Wanted
from render.page.queue import Asked, Ears, Queue
from render.page.standing import Standing, stand
from render.page.told import FrameState, set_of
from render.plan.checks import Finding, check_set
from render.scenefile import Setup
from render.trace import Engine


class Session:
    """The scene that all tabs share. Every change is checked and placed before it is taken.

    engine, pictures : None where no engine works
    Raises SceneError, KitError, MeshError for a scene that cannot stand.
    """

    def __init__(
        self,
        document: Document,
        hub: Hub,
        engine: Engine | None = None,
        pictures: Pictures | None = None,
        trouble: str = "",
    ) -> None:
        self.document, self.hub, self.trouble = document, hub, trouble
        self._pictures, self._lock, self._number = pictures, threading.RLock(), 0
        self._findings: tuple[Finding, ...] | None = None
        self._standing = stand(document.checked(document.text))
        self._wanted = self._frames_of(self._standing)
        self._checker = Latest("tenthstop-checks", self._check, self._troubled)
        # The checks take seconds of a core: they begin when there is something to look at.
        ears = Ears(self._checker.give, self._bounced, self._grown, self._troubled)
        self._engine = engine
        self.queue = Queue(engine, pictures, ears)
        self._show()

    def start(self) -> None:
        """Begin to trace and to check."""
        self.queue.start()
        self._checker.start()

    def end(self) -> None:
        """Stop both; the engine's process ends."""
        self.queue.end()
        self._checker.end()

    def now(self) -> dict[str, Any]:
        """The whole state, as `GET /api/set` answers it."""
        with self._lock:
            document = self.document
            frames = self._pictures.states(self._wanted) if self._pictures else {}
            return {
                "version": document.version,
                "file": document.name,
                "saved": document.saved,
                "undo": bool(document.before),
                "redo": bool(document.after),
                "trouble": self.trouble,
                **set_of(self._standing, frames, self._findings, self._engine is not None),
            }

    def change(self, version: object, keys: Mapping[str, Any]) -> dict[str, Any]:
        """Set keys of the scene; raises ConflictError, SceneError, KitError, MeshError."""
        with self._lock:
            self.document.check_version(version)
            setup = self._standing.setup
            text = self.document.edited(with_markings(setup, keys))
            return self._to(text, lambda: self.document.take(text))

    def undo(self, version: object) -> dict[str, Any]:
        """Take the last change back; raises ConflictError, OutputError."""
        with self._lock:
            self.document.check_version(version)
            return self._to(self.document.earlier(), self.document.undo)

    def redo(self, version: object) -> dict[str, Any]:
        """Do it again; raises ConflictError, OutputError."""
        with self._lock:
            self.document.check_version(version)
            return self._to(self.document.later(), self.document.redo)

    def save(self, version: object) -> dict[str, Any]:
        """Write the file; raises ConflictError, OutputError."""
        with self._lock:
            self.document.check_version(version)
            self.document.save()
            self.hub.tell("set", self.document.version)
            return {"saved": True, "file": self.document.name}

    def balance(self, version: object) -> dict[str, Any]:
        """Powers for what is wanted, not applied; raises ConflictError, SceneError, EngineError."""
        with self._lock:
            self.document.check_version(version)
            setup = self._standing.setup
        return dict(self.queue.ask(lambda engine: balanced(setup, engine)))

    def pixels(self, light: str, digest: str) -> NDArray[np.float16] | None:
        """A light's frame (h, w, 3) as half floats; None where it is not the present one's."""
        with self._lock:
            asked = self._wanted
        if self._pictures is None or asked is None or asked.names.get(light) != digest:
            return None
        return self._pictures.pixels(asked, digest)

    def _to(self, text: str, take: Callable[[], None]) -> dict[str, Any]:
        """Take a text where its scene can stand, and tell everyone."""
        setup = self.document.checked(text)
        standing = stand(setup, self._standing)
        wanted = self._wanted if self._same_picture(standing) else self._frames_of(standing)
        take()
        self._standing, self._wanted, self._findings = standing, wanted, None
        self._show()
        self.hub.tell("set", self.document.version)
        return self.now()

    def _same_picture(self, now: Standing) -> bool:
        """Whether no frame can have changed: the same light through the same lens."""
        before = self._standing
        views = [each.layout.view for each in (before, now)]
        stops = [None if view is None else view.f_number for view in views]
        return now.direct is before.direct and stops[0] == stops[1]

    def _frames_of(self, standing: Standing) -> Wanted | None:
        return self._pictures.wanted(standing.layout) if self._pictures else None

    def _show(self) -> None:
        self._number += 1
        self.queue.show(Asked(self._number, self._standing, self._wanted))

    def _check(self, asked: Asked) -> None:
        self._found(asked.number, findings_of(asked.standing.setup))

    def _bounced(self, found: Standing) -> None:
        """Bounce that was traced; good for every set of the same geometry."""
        with self._lock:
            if found.direct is not self._standing.direct:
                return
            self._standing = replace(self._standing, bounce=found.bounce, traced=True)
        self.hub.tell("set", self.document.version)

    def _found(self, number: int, findings: tuple[Finding, ...]) -> None:
        with self._lock:
            if number != self._number:
                return
            self._findings = findings
        self.hub.tell("set", self.document.version)

    def _grown(self, frames: Mapping[str, FrameState]) -> None:
        for light, state in frames.items():
            told = {"light": light, "digest": state.digest}
            self.hub.tell("frame", told | {"samples": state.samples, "of": state.of})

    def _troubled(self, words: str) -> None:
        with self._lock:
            self.trouble = words
        self.hub.tell("trouble", words)


def conflict_answer(session: Session, problem: ConflictError) -> dict[str, Any]:
    """What a tab is told that was overtaken: the sentence, and how things stand now."""
    if problem.on_disk:
        return {"error": str(problem), "disk": True}
    return {"error": str(problem), "set": session.now()}


def findings_of(setup: Setup) -> tuple[Finding, ...]:
    """What the quick checks find; a set that they cannot check is a finding of its own."""
    try:
        return check_set(setup).findings
    except TenthstopError as problem:
        return (Finding("set", "scene", "wrong", 0.0, "count", None, str(problem)),)
