"""Everything that writes a user's file, each as a function of the file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from PIL import Image

from render.card.files import _pdf, _picture
from render.errors import OutputError
from render.folders import data_folder
from render.page.album import put as put_beside
from render.page.document import open_document
from render.page.exports import Download
from render.picture.develop import Exposure, Picture
from render.picture.files import write_exr, write_png, write_tiff, write_whole
from render.plan.calibrate import kit_entries
from render.scenefile import load_scene
from render.scenefile.write import write_powers
from tests.faults.jobs import STOOL

NOISE = np.random.default_rng(1).random((40, 50, 3), np.float32)
PICTURE = Picture(NOISE, NOISE[..., 0], Exposure(100, 8, 1 / 125, 85))
TEXT = "# measured\n" * 400
OLD = b"old"


@dataclass(frozen=True, slots=True)
class Writer:
    """A way to write a file."""

    name: str
    file: str
    write: Callable[[Path], object]
    old: bytes | None = OLD  # what is there before; None for what writes new files alone
    errors: tuple[type[Exception], ...] = (OutputError,)  # which its caller makes a sentence of


def _save(file: Path) -> None:
    document = open_document(file, None)
    document.take(document.edited({"light.key.power": "1/8"}))
    document.save()


def _save_as(file: Path) -> None:
    open_document(data_folder("scenes") / "empty-room.toml", file).save()


def _figure() -> Figure:
    figure = Figure((2, 1))
    figure.text(0.1, 0.5, "a card")
    return figure


WRITERS = (
    Writer(
        "scene, --write",
        "stool.toml",
        lambda file: write_powers(load_scene(file), {"key": "1/8"}),
        STOOL.encode(),
    ),
    Writer("scene, page", "stool.toml", _save, STOOL.encode()),
    Writer("scene, page, new name", "new.toml", _save_as, None),
    Writer(
        "kit",
        "kit.toml",
        lambda file: kit_entries.put(file, TEXT, over=True),
        errors=(OSError,),
    ),
    Writer(
        "kit, new", "kit.toml", lambda file: kit_entries.put(file, TEXT), None, errors=(OSError,)
    ),
    Writer("PNG", "a.png", lambda file: write_png(file, PICTURE, "a look")),
    Writer("TIFF", "a.tif", lambda file: write_tiff(file, PICTURE, "a look")),
    Writer("EXR", "a.exr", lambda file: write_exr(file, PICTURE, "a look")),
    Writer(
        "sheet",
        "sheet.png",
        lambda file: write_whole(file, Image.fromarray((NOISE * 255).astype(np.uint8)).save),
    ),
    Writer("text", "recipe.toml", lambda file: write_whole(file, lambda p: p.write_text(TEXT))),
    Writer(
        "beside the scene",
        "look.png",
        lambda file: put_beside(file.parent, Download(file.name, "image/png", TEXT.encode())),
        None,
    ),
)
CARDS = (  # by matplotlib, which takes longer
    Writer(
        "card, PDF",
        "card.pdf",
        lambda file: write_whole(file, lambda part: _pdf(part, [_figure()], "a card")),
    ),
    Writer(
        "card, SVG",
        "card.svg",
        lambda file: write_whole(file, lambda part: _picture(part, _figure())),
    ),
)
