"""Files to take away: the look as the page shows it, and the card. Nothing is left on disk."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from render.card import PAPER_NAMES, Plate, card_of, drawn_set, write_card
from render.card.plates import LOOK, exposure_words
from render.card.words import spoken
from render.errors import OutputError
from render.layout import place
from render.page.pictures import Pictures, Wanted
from render.page.standing import Standing
from render.picture.develop import Picture, codes, mix
from render.picture.files import write_png
from render.picture.take import exposure_of
from render.trace import Engine

COARSE = ", coarse first picture"  # in the title of a picture that is saved


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


@dataclass(frozen=True, slots=True)
class Seen:
    """The look as the page shows it, and the lights of which there are first pictures alone."""

    picture: Picture
    coarse: tuple[str, ...]


def look_png(subject: Subject, *, coarse: bool = False) -> Download:
    """The look from the frames that are there.

    coarse : with first pictures of lights that have no better; its name says so
    Raises OutputError while a light has none; it says what is waited for.
    """
    seen = _seen(subject)
    if isinstance(seen, str) or (seen.coarse and not coarse):
        why = seen if isinstance(seen, str) else _awaited(seen.coarse)
        raise OutputError(f"no picture to save yet: {why} (accepted: a little later)")
    title = subject.standing.setup.scene.title + (COARSE if seen.coarse else "")
    content = written("look.png", lambda file: write_png(file, seen.picture, title))
    name = f"{subject.stem}-look{'-coarse' if seen.coarse else ''}.png"
    return Download(name, "image/png", content)


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
    seen = _seen(subject) if look else ""
    if isinstance(seen, Seen):
        plates = (_plate(subject, seen), *plates)
    made = replace(card, plates=plates)
    content = written("card.pdf", lambda file: write_card(made, file, paper))
    return Download(f"{subject.stem}-card.pdf", "application/pdf", content)


def _plate(subject: Subject, seen: Seen) -> Plate:
    camera = subject.standing.setup.scene.camera
    assert camera is not None  # the picture was taken with it
    how = f"Coarse: {_awaited(seen.coarse)}" if seen.coarse else "Traced as draft"
    words = f"{exposure_words(camera)}. {how}, as the page shows it."
    return Plate(LOOK, words, np.round(255 * codes(seen.picture.linear)).astype(np.uint8))


def _seen(subject: Subject) -> Seen | str:
    """The look, developed as on the page, or why there is none."""
    pictures, wanted = subject.pictures, subject.frames
    if pictures is None:
        return "there is no picture, since no engine works here"
    if wanted is None:
        return "the scene has no camera"
    frames = pictures.light_frames(wanted)
    coarse = pictures.coarse_frames(wanted, [k for k in wanted.names if k not in frames])
    missing = [k for k in wanted.names if k not in frames and k not in coarse]
    if missing:
        return _awaited(missing)
    setup, body = subject.standing.setup, subject.standing.layout.body
    layout = place(setup, body, spots=False)
    # In the order of the lights: sums of floats depend on it.
    found = {name: frames.get(name) or coarse[name] for name in wanted.names}
    return Seen(mix(found, layout, exposure_of(setup)), tuple(coarse))


def _awaited(lights: Sequence[str]) -> str:
    """What is waited for: "the light of key and hair is still being traced"."""
    names = " and ".join(spoken(name) for name in lights)
    return f"the light of {names} is still being traced"


def written(name: str, write: Callable[[Path], object]) -> bytes:
    """What is written to a file of that name, in a folder that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="tenthstop-") as folder:
        file = Path(folder) / name
        write(file)
        return file.read_bytes()
