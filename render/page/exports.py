"""Files to take away: the look as the page shows it, and the card. Nothing is left on disk."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from render.card import PAPER_NAMES, Plate, card_of, drawn_set, write_card
from render.card.plates import LOOK, exposure_words
from render.errors import OutputError
from render.layout import place
from render.page.pictures import Pictures, Wanted
from render.page.standing import Standing
from render.picture.develop import Picture, codes, mix
from render.picture.files import write_png
from render.picture.take import exposure_of
from render.trace import Engine


@dataclass(frozen=True, slots=True)
class Download:
    """A file for the browser."""

    name: str
    media: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Subject:
    """What is exported: the present set, with its frames as far as they are."""

    stem: str  # name of the scene's file without its ending
    standing: Standing
    pictures: Pictures | None
    frames: Wanted | None


def look_png(subject: Subject) -> Download:
    """The look from the frames that are there; raises OutputError while one is missing."""
    picture = _picture(subject)
    if picture is None:
        raise OutputError("export: the picture is not traced yet (accepted: a little later)")
    title = subject.standing.setup.scene.title
    content = written("look.png", lambda file: write_png(file, picture, title))
    return Download(f"{subject.stem}-look.png", "image/png", content)


def card_pdf(subject: Subject, engine: Engine | None, paper: str, look: bool) -> Download:
    """The card of the present set, with the look as far as it is traced.

    engine : traces the bounce; None leaves it out, and the card says so
    paper  : "a4" or "letter"
    Raises OutputError for another paper, EngineError.
    """
    if paper not in PAPER_NAMES:
        raise OutputError(f"paper: found {paper[:20]} (accepted: {', '.join(PAPER_NAMES)})")
    setup = subject.standing.setup
    card = card_of(setup, bounce=False) if engine is None else card_of(setup, engine=engine)
    plates: tuple[Plate, ...] = (drawn_set(setup, card.layout),)
    seen = _picture(subject) if look else None
    if seen is not None:
        plates = (_plate(subject, seen), *plates)
    made = replace(card, plates=plates)
    content = written("card.pdf", lambda file: write_card(made, file, paper))
    return Download(f"{subject.stem}-card.pdf", "application/pdf", content)


def _plate(subject: Subject, picture: Picture) -> Plate:
    camera = subject.standing.setup.scene.camera
    assert camera is not None  # the picture was taken with it
    words = f"{exposure_words(camera)}. Traced as draft, as the page shows it."
    return Plate(LOOK, words, np.round(255 * codes(picture.linear)).astype(np.uint8))


def _picture(subject: Subject) -> Picture | None:
    """The look, developed as on the page; None without a camera or while a frame is missing."""
    if subject.pictures is None or subject.frames is None:
        return None
    frames = subject.pictures.light_frames(subject.frames)
    if frames is None:
        return None
    setup, body = subject.standing.setup, subject.standing.layout.body
    return mix(frames, place(setup, body, spots=False), exposure_of(setup))


def written(name: str, write: Callable[[Path], object]) -> bytes:
    """What is written to a file of that name, in a folder that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="tenthstop-") as folder:
        file = Path(folder) / name
        write(file)
        return file.read_bytes()
