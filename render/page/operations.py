"""What can be done to a session: each takes its lock, looks at the version, and tells all tabs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from render.errors import SceneError
from render.page import disk
from render.page.adding import added, removed
from render.page.balanced import balanced
from render.page.conflicts import RefusedError
from render.page.edits import scene_keys
from render.page.exports import Download, card_pdf
from render.page.serial import Wished, series_sheet
from render.page.session import Session
from render.page.standing import stand
from render.page.trials import instead_of


def change(
    session: Session, version: object, keys: Mapping[str, Any], merge: str = ""
) -> dict[str, Any]:
    """Set keys of the scene; raises ConflictError, RefusedError, SceneError, KitError.

    merge : a word; a change with the word of the change before it is the same step of undo
    """
    with session.lock:
        session.document.check_version(version)
        try:
            text = session.document.edited(scene_keys(session.standing.setup, keys))
            return session.to(text, lambda: session.document.take(text, merge))
        except SceneError as problem:
            instead = instead_of(session.document, session.standing, keys)
            if not instead:
                raise
            raise RefusedError(str(problem), instead) from None


def add(
    session: Session, version: object, what: object, name: object, keys: Mapping[str, Any]
) -> dict[str, Any]:
    """Add a light, a panel or a wish; raises ConflictError, SceneError."""
    with session.lock:
        session.document.check_version(version)
        new = added(session.standing, what, name, keys)
        return change(session, version, new) | {"added": next(iter(new))}


def remove(session: Session, version: object, what: object, name: object) -> dict[str, Any]:
    """Take one away with all that names it; raises ConflictError, SceneError."""
    with session.lock:
        session.document.check_version(version)
        gone = removed(session.standing.setup, what, name)
        return change(session, version, gone) | {"removed": list(gone)}


def trial(session: Session, version: object, keys: Mapping[str, Any], tab: str) -> dict[str, Any]:
    """The set as it would stand with these keys; raises ConflictError, OvertakenError."""
    session.hand.moves()
    with session.lock:
        session.document.check_version(version)
        standing, heading = session.standing, session.heading()
        document = replace(session.document)  # as it is now, whoever changes it meanwhile
    return heading | session.trials.run(tab, document, standing, keys, session.bounces)


def undo(session: Session, version: object) -> dict[str, Any]:
    """Take the last change back; raises ConflictError, OutputError."""
    with session.lock:
        session.document.check_version(version)
        return session.to(session.document.earlier(), session.document.undo)


def redo(session: Session, version: object) -> dict[str, Any]:
    """Do it again; raises ConflictError, OutputError."""
    with session.lock:
        session.document.check_version(version)
        return session.to(session.document.later(), session.document.redo)


def save(
    session: Session, version: object, name: object = None, over: bool = False
) -> dict[str, Any]:
    """Write the file; raises ConflictError, OutputError.

    name : of a new file that is written instead
    over : whether what the file holds now is written over, whoever wrote it
    """
    with session.lock:
        session.document.check_version(version)
        if name is not None:
            session.document.save_as(name)
            setup = session.document.checked(session.document.text)
            stood = session.standing
            # The same set by another name: nothing of it moves.
            stood = replace(stood, setup=replace(stood.setup, file=setup.file))
            session.stands(stand(setup, stood))
        else:
            if over:
                disk.accept(session.document)
            session.document.save()
        session.look_at_disk()
        session.hub.tell("set", session.document.version)
        return {"saved": True, "file": session.document.name}


def reload(session: Session, version: object) -> dict[str, Any]:
    """Take the file as it is on disk; raises ConflictError, SceneError, OutputError."""
    with session.lock:
        session.document.check_version(version)
        return _take_over(session, *disk.theirs_alone(session.document))


def merge(session: Session, version: object, take: Mapping[str, Any]) -> dict[str, Any]:
    """Take the file with what was changed here; raises ConflictError where both have a key."""
    with session.lock:
        session.document.check_version(version)
        return _take_over(session, *disk.both_together(session.document, take))


def _take_over(session: Session, text: str, content: bytes) -> dict[str, Any]:
    session.to(text, lambda: session.document.take_over(text, content))
    session.look_at_disk()
    return session.now()


def balance(session: Session, version: object) -> dict[str, Any]:
    """Powers for what is wanted, not applied; raises ConflictError, SceneError, EngineError."""
    with session.lock:
        session.document.check_version(version)
        setup = session.standing.setup
    return dict(session.queue.ask(lambda engine: balanced(setup, engine)))


def series(session: Session, version: object, asked: Wished) -> Download:
    """A sheet of the set with one key at several values; raises OutputError, EngineError."""
    with session.lock:
        session.document.check_version(version)
        studio = session.studio()
    return series_sheet(studio, session.sheets, asked)


def card(session: Session, paper: str, look: bool) -> Download:
    """The card of the present set; raises OutputError, EngineError."""
    subject = session.subject()
    found: Download = session.queue.ask(lambda engine: card_pdf(subject, engine, paper, look))
    return found
