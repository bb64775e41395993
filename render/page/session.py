"""What the page is about: one scene being edited, its readings, its pictures, and who is told."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import TenthstopError
from render.layout import Layout
from render.page import disk
from render.page.checking import Checking
from render.page.document import Document
from render.page.events import Hub
from render.page.exports import Subject
from render.page.hand import Hand
from render.page.latest import Latest
from render.page.making import Maker, UnmadeError
from render.page.naming import tables_of
from render.page.pictures import Pictures, Wanted
from render.page.queue import Asked, Ears, Queue
from render.page.serial import Sheets, Studio
from render.page.standing import Standing, stand
from render.page.told import FrameState, set_of
from render.page.trials import Trials
from render.page.watch import Watch
from render.plan.checks import Finding
from render.scenefile import Setup
from render.sitter import Wishes
from render.trace import Engine


class Session:
    """The scene that all tabs share. Every change is checked and placed before it is taken.

    engine, pictures : None where no engine works
    quick            : another engine, for first pictures alone
    Raises SceneError, KitError, MeshError for a scene that cannot stand.
    """

    def __init__(
        self,
        document: Document,
        hub: Hub,
        engine: Engine | None = None,
        pictures: Pictures | None = None,
        trouble: str = "",
        quick: Engine | None = None,
    ) -> None:
        self.document, self.hub, self.trouble = document, hub, trouble
        self._pictures, self.lock, self._number = pictures, threading.RLock(), 0
        self._findings: tuple[Finding, ...] | None = None
        self._stood: Standing | None = None
        self._wanted: Wanted | None = None
        self._glimpsed: Wanted | None = None  # frames of a set that is being metered
        self._first: Wishes | None = None  # a sitter who must be made before anything can stand
        self.sheets = Sheets()
        self.trials, self._on_disk = Trials(), disk.on_disk(document)
        self._maker = Maker(self._made, self._troubled)
        self._checking = Checking()
        self._checker = Latest("tenthstop-checks", self._check, self._troubled)
        # The checks take seconds of a core: they begin when there is something to look at.
        ears = Ears(self._checker.give, self._bounced, self._grown, self._troubled)
        self._engine, self.hand = engine, Hand()
        self.queue = Queue(engine, pictures, ears, quick, self.hand)
        self._watch = Watch(lambda: disk.stamp_of(self.document), self.look_at_disk)
        try:
            self.stands(stand(document.checked(document.text), wait=False))
        except UnmadeError as problem:
            self._first = problem.wishes

    def start(self) -> None:
        """Begin to trace, to check and to watch the file."""
        self.queue.start()
        self._checker.start()
        self._watch.start()
        if self._first is not None:
            self._maker.want(self._first)

    def end(self) -> None:
        """Stop all of it; the engine's process ends."""
        self.sheets.give_up()
        self.queue.end()
        self._checker.end()
        self._watch.end()
        self._maker.end()

    @property
    def bounces(self) -> bool:
        """Whether an engine is there that will trace the bounce."""
        return self._engine is not None

    @property
    def standing(self) -> Standing:
        """The set as it stands; raises UnmadeError while nothing can stand yet."""
        if self._stood is None:
            assert self._first is not None
            raise UnmadeError(self._first)
        return self._stood

    def now(self) -> dict[str, Any]:
        """The whole state, as `GET /api/set` answers it; raises UnmadeError."""
        with self.lock:
            frames = self._pictures.states(self._wanted) if self._pictures else {}
            return self.heading() | set_of(self.standing, frames, self._findings, self.bounces)

    def heading(self) -> dict[str, Any]:
        """What is said of the document, beside the set."""
        document = self.document
        return {
            "version": document.version,
            "file": document.name,
            "saved": document.saved,
            "undo": bool(document.before),
            "redo": bool(document.after),
            "trouble": self.trouble,
            "disk": self._on_disk.told,
            "written": tables_of(document.text),
        }

    def subject(self) -> Subject:
        """What is exported; raises UnmadeError."""
        with self.lock:
            stem = self.document.name.removesuffix(".toml")
            return Subject(stem, self.standing, self._pictures, self._wanted)

    def studio(self) -> Studio:
        """What a series is made with, of the scene as it is now."""
        document = replace(self.document)
        return Studio(
            document, self.queue, self._pictures, lambda words: self.hub.tell("series", words)
        )

    def pixels(self, light: str, digest: str) -> NDArray[np.float16] | None:
        """A light's frame (h, w, 3) as half floats; None where it is not the present one's."""
        with self.lock:
            asked = self._wanted
        if self._pictures is None or asked is None or asked.names.get(light) != digest:
            return None
        return self._pictures.pixels(asked, digest)

    @property
    def setup(self) -> Setup:
        """The scene as it stands; raises UnmadeError."""
        with self.lock:
            return self.standing.setup

    def to(self, text: str, take: Callable[[], None]) -> dict[str, Any]:
        """Take a text where its scene can stand, and tell everyone."""
        setup = self.document.checked(text)
        try:
            standing = stand(setup, self._stood, wait=False, placed=self._placed)
        except UnmadeError as problem:
            self._maker.want(problem.wishes)
            raise
        take()
        self.stands(standing)
        self.hub.tell("set", self.document.version)
        return self.now()

    def _placed(self, layout: Layout) -> None:
        """A set that is not metered yet: its pictures need not wait for that."""
        self._glimpsed = self._pictures.wanted(layout) if self._pictures else None
        self.queue.glimpse(self._glimpsed)

    def stands(self, standing: Standing) -> None:
        """This is the present set: it is traced and checked, and its sitter is made."""
        same = self._wanted is not None and self._same_picture(standing)
        self._wanted = self._wanted if same else self._frames_of(standing)
        self._stood, self._findings = standing, None
        self._number += 1
        self.queue.show(Asked(self._number, standing, self._wanted))
        self._maker.want(standing.who.making)

    def _same_picture(self, now: Standing) -> bool:
        """Whether no frame can have changed: the same light through the same lens."""
        before = self.standing
        views = [each.layout.view for each in (before, now)]
        stops = [None if view is None else view.f_number for view in views]
        return now.direct is before.direct and stops[0] == stops[1]

    def _frames_of(self, standing: Standing) -> Wanted | None:
        found, self._glimpsed = self._glimpsed, None
        if found is not None and found.order.layout is standing.layout:
            return found
        return self._pictures.wanted(standing.layout) if self._pictures else None

    def _made(self) -> None:
        """A sitter is there now: who is wanted takes their seat."""
        with self.lock:
            try:
                setup = self.document.checked(self.document.text)
                self.stands(stand(setup, self._stood, wait=False))
            except TenthstopError as problem:
                self._troubled(str(problem))
        self.hub.tell("set", self.document.version)

    def look_at_disk(self) -> None:
        """See whether somebody else has written the file."""
        with self.lock:
            found = disk.on_disk(self.document)
            changed, self._on_disk = found != self._on_disk, found
        if changed:
            self.hub.tell("set", self.document.version)

    def _check(self, asked: Asked) -> None:
        def given_up() -> bool:
            return self.hand.wait(lambda: asked.number != self._number)

        found = self._checking.findings(asked.standing, given_up)
        if found is not None:
            self._found(asked.number, found)

    def _bounced(self, found: Standing) -> None:
        """Bounce that was traced; good for every set of the same geometry."""
        with self.lock:
            if self._stood is None or found.direct is not self._stood.direct:
                return
            self._stood = replace(self._stood, bounce=found.bounce, traced=True)
        self.hub.tell("set", self.document.version)

    def _found(self, number: int, findings: tuple[Finding, ...]) -> None:
        with self.lock:
            if number != self._number:
                return
            self._findings = findings
        self.hub.tell("set", self.document.version)

    def _grown(self, frames: Mapping[str, FrameState]) -> None:
        for light, state in frames.items():
            told = {"light": light, "digest": state.digest}
            self.hub.tell("frame", told | {"samples": state.samples, "of": state.of})

    def _troubled(self, words: str) -> None:
        with self.lock:
            self.trouble = words
        self.hub.tell("trouble", words)
