"""What the page is about: one scene being edited, its readings, its pictures, and who is told."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError, TenthstopError
from render.page import disk
from render.page.adding import added, removed
from render.page.balanced import balanced
from render.page.checking import Checking
from render.page.conflicts import RefusedError
from render.page.document import Document
from render.page.edits import scene_keys
from render.page.events import Hub
from render.page.exports import Download, Subject, card_pdf
from render.page.latest import Latest
from render.page.making import Maker, UnmadeError
from render.page.naming import tables_of
from render.page.pictures import Pictures, Wanted
from render.page.queue import Asked, Ears, Queue
from render.page.standing import Standing, stand
from render.page.told import FrameState, set_of
from render.page.trials import Trials, instead_of
from render.page.watch import Watch
from render.plan.checks import Finding
from render.scenefile import Setup
from render.sitter import Wishes
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
        self._stood: Standing | None = None
        self._wanted: Wanted | None = None
        self._first: Wishes | None = None  # a sitter who must be made before anything can stand
        self._trials, self._on_disk = Trials(), disk.on_disk(document)
        self._maker = Maker(self._made, self._troubled)
        self._checking = Checking()
        self._checker = Latest("tenthstop-checks", self._check, self._troubled)
        # The checks take seconds of a core: they begin when there is something to look at.
        ears = Ears(self._checker.give, self._bounced, self._grown, self._troubled)
        self._engine = engine
        self.queue = Queue(engine, pictures, ears)
        self._watch = Watch(lambda: disk.stamp_of(self.document), self._look_at_disk)
        try:
            self._stands(stand(document.checked(document.text), wait=False))
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
        self.queue.end()
        self._checker.end()
        self._watch.end()
        self._maker.end()

    @property
    def _standing(self) -> Standing:
        """The set as it stands; raises UnmadeError while nothing can stand yet."""
        if self._stood is None:
            assert self._first is not None
            raise UnmadeError(self._first)
        return self._stood

    def now(self) -> dict[str, Any]:
        """The whole state, as `GET /api/set` answers it; raises UnmadeError."""
        with self._lock:
            frames = self._pictures.states(self._wanted) if self._pictures else {}
            bounces = self._engine is not None
            return self._heading() | set_of(self._standing, frames, self._findings, bounces)

    def _heading(self) -> dict[str, Any]:
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

    def change(self, version: object, keys: Mapping[str, Any], merge: str = "") -> dict[str, Any]:
        """Set keys of the scene; raises ConflictError, RefusedError, SceneError, KitError.

        merge : a word; a change with the word of the change before it is the same step of undo
        """
        with self._lock:
            self.document.check_version(version)
            try:
                text = self.document.edited(scene_keys(self._standing.setup, keys))
                return self._to(text, lambda: self.document.take(text, merge))
            except SceneError as problem:
                instead = instead_of(self.document, self._standing, keys)
                if not instead:
                    raise
                raise RefusedError(str(problem), instead) from None

    def add(
        self, version: object, what: object, name: object, keys: Mapping[str, Any]
    ) -> dict[str, Any]:
        """Add a light, a panel or a wish; raises ConflictError, SceneError."""
        with self._lock:
            self.document.check_version(version)
            change = added(self._standing, what, name, keys)
            return self.change(version, change) | {"added": next(iter(change))}

    def remove(self, version: object, what: object, name: object) -> dict[str, Any]:
        """Take one away with all that names it; raises ConflictError, SceneError."""
        with self._lock:
            self.document.check_version(version)
            change = removed(self._standing.setup, what, name)
            return self.change(version, change) | {"removed": list(change)}

    def trial(self, version: object, keys: Mapping[str, Any], tab: str) -> dict[str, Any]:
        """The set as it would stand with these keys; raises ConflictError, OvertakenError."""
        with self._lock:
            self.document.check_version(version)
            standing, heading = self._standing, self._heading()
            document = replace(self.document)  # as it is now, whoever changes it meanwhile
        return heading | self._trials.run(tab, document, standing, keys, self._engine is not None)

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

    def save(self, version: object, name: object = None, over: bool = False) -> dict[str, Any]:
        """Write the file; raises ConflictError, OutputError.

        name : of a new file that is written instead
        over : whether what the file holds now is written over, whoever wrote it
        """
        with self._lock:
            self.document.check_version(version)
            if name is not None:
                self.document.save_as(name)
                self._stands(stand(self.document.checked(self.document.text), self._standing))
            else:
                if over:
                    disk.accept(self.document)
                self.document.save()
            self._look_at_disk()
            self.hub.tell("set", self.document.version)
            return {"saved": True, "file": self.document.name}

    def reload(self, version: object) -> dict[str, Any]:
        """Take the file as it is on disk; raises ConflictError, SceneError, OutputError."""
        with self._lock:
            self.document.check_version(version)
            return self._take_over(*disk.theirs_alone(self.document))

    def merge(self, version: object, take: Mapping[str, Any]) -> dict[str, Any]:
        """Take the file with what was changed here; raises ConflictError where both have a key."""
        with self._lock:
            self.document.check_version(version)
            return self._take_over(*disk.both_together(self.document, take))

    def _take_over(self, text: str, content: bytes) -> dict[str, Any]:
        self._to(text, lambda: self.document.take_over(text, content))
        self._look_at_disk()
        return self.now()

    def balance(self, version: object) -> dict[str, Any]:
        """Powers for what is wanted, not applied; raises ConflictError, SceneError, EngineError."""
        with self._lock:
            self.document.check_version(version)
            setup = self._standing.setup
        return dict(self.queue.ask(lambda engine: balanced(setup, engine)))

    def subject(self) -> Subject:
        """What is exported; raises UnmadeError."""
        with self._lock:
            stem = self.document.name.removesuffix(".toml")
            return Subject(stem, self._standing, self._pictures, self._wanted)

    def card(self, paper: str, look: bool) -> Download:
        """The card of the present set; raises OutputError, EngineError."""
        subject = self.subject()
        found: Download = self.queue.ask(lambda engine: card_pdf(subject, engine, paper, look))
        return found

    def pixels(self, light: str, digest: str) -> NDArray[np.float16] | None:
        """A light's frame (h, w, 3) as half floats; None where it is not the present one's."""
        with self._lock:
            asked = self._wanted
        if self._pictures is None or asked is None or asked.names.get(light) != digest:
            return None
        return self._pictures.pixels(asked, digest)

    @property
    def setup(self) -> Setup:
        """The scene as it stands; raises UnmadeError."""
        with self._lock:
            return self._standing.setup

    def _to(self, text: str, take: Callable[[], None]) -> dict[str, Any]:
        """Take a text where its scene can stand, and tell everyone."""
        setup = self.document.checked(text)
        try:
            standing = stand(setup, self._stood, wait=False)
        except UnmadeError as problem:
            self._maker.want(problem.wishes)
            raise
        take()
        self._stands(standing)
        self.hub.tell("set", self.document.version)
        return self.now()

    def _stands(self, standing: Standing) -> None:
        """This is the present set: it is traced and checked, and its sitter is made."""
        same = self._wanted is not None and self._same_picture(standing)
        self._wanted = self._wanted if same else self._frames_of(standing)
        self._stood, self._findings = standing, None
        self._number += 1
        self.queue.show(Asked(self._number, standing, self._wanted))
        self._maker.want(standing.who.making)

    def _same_picture(self, now: Standing) -> bool:
        """Whether no frame can have changed: the same light through the same lens."""
        before = self._standing
        views = [each.layout.view for each in (before, now)]
        stops = [None if view is None else view.f_number for view in views]
        return now.direct is before.direct and stops[0] == stops[1]

    def _frames_of(self, standing: Standing) -> Wanted | None:
        return self._pictures.wanted(standing.layout) if self._pictures else None

    def _made(self) -> None:
        """A sitter is there now: who is wanted takes their seat."""
        with self._lock:
            try:
                setup = self.document.checked(self.document.text)
                self._stands(stand(setup, self._stood, wait=False))
            except TenthstopError as problem:
                self._troubled(str(problem))
        self.hub.tell("set", self.document.version)

    def _look_at_disk(self) -> None:
        """See whether somebody else has written the file."""
        with self._lock:
            found = disk.on_disk(self.document)
            changed, self._on_disk = found != self._on_disk, found
        if changed:
            self.hub.tell("set", self.document.version)

    def _check(self, asked: Asked) -> None:
        self._found(asked.number, self._checking.findings(asked.standing))

    def _bounced(self, found: Standing) -> None:
        """Bounce that was traced; good for every set of the same geometry."""
        with self._lock:
            if self._stood is None or found.direct is not self._stood.direct:
                return
            self._stood = replace(self._stood, bounce=found.bounce, traced=True)
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
