"""Write the card: a PDF of two pages (three where a set is large), or a picture of each page."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from render.card.content import Card
from render.card.first import divided, first_page
from render.card.page import FAMILY, PAPERS
from render.card.second import later_pages
from render.errors import OutputError
from render.picture.files import write_whole

PAPER_NAMES = tuple(PAPERS)
SUFFIXES = (".pdf", ".svg", ".png")
PNG_DPI = 150
# TrueType fonts whole in the PDF, text as text in the SVG, the same bytes each time.
STYLE: Any = {
    "pdf.fonttype": 42,
    "svg.fonttype": "none",
    "svg.hashsalt": "card",
    "font.family": FAMILY,
    "text.usetex": False,
    "text.hinting": "none",  # letters as wide at every resolution as they were measured
}


def check_out(out: Path) -> None:
    """Refuse a place that the card cannot be written to, before anything is computed."""
    if out.suffix.lower() not in SUFFIXES:
        raise OutputError(
            f"--out: found {out.name} (accepted: a name that ends in {', '.join(SUFFIXES)})"
        )
    check_folder("--out", out)


def check_folder(option: str, file: Path) -> None:
    """Refuse a file whose folder is not there or cannot be written, or that is a folder itself."""
    if not file.parent.is_dir():
        raise OutputError(f"{option}: no folder {file.parent} (accepted: one that is there)")
    if file.is_dir():
        raise OutputError(f"{option}: {file} is a folder (accepted: a file name)")
    if not os.access(file.parent, os.W_OK):
        raise OutputError(
            f"{option}: {file.parent} cannot be written (accepted: a folder that can)"
        )


def write_card(card: Card, out: Path, paper: str = "a4") -> list[Path]:
    """Write the pages; a picture of the second one gets "-2" after its name.

    paper : "a4" or "letter"
    Raises OutputError for a suffix that is not known or a folder that is not there.
    """
    check_out(out)
    with mpl.rc_context(STYLE):
        sheet = PAPERS[paper]
        rest = later_pages(card, sheet, tape=not divided(card, sheet).table)
        pages = [first_page(card, sheet), *rest]
        if out.suffix.lower() == ".pdf":
            return [write_whole(out, lambda part: _pdf(part, pages, card.title))]
        others = [out.with_stem(f"{out.stem}-{i}") for i in range(2, len(pages) + 1)]
        return [
            write_whole(path, partial(_picture, page=page))
            for path, page in zip([out, *others], pages, strict=True)
        ]


def _pdf(path: Path, pages: list[Figure], title: str) -> None:
    about = {"Title": title, "Creator": "tenthstop", "CreationDate": None}
    with PdfPages(path, metadata=about) as file:
        for page in pages:
            file.savefig(page)


def _picture(path: Path, page: Figure) -> None:
    kind = path.suffix.lower().removeprefix(".")
    about: dict[str, Any] = {"Date": None} if kind == "svg" else {}
    page.savefig(path, format=kind, dpi=PNG_DPI, metadata=about)
