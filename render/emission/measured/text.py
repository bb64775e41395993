"""The words and numbers of a photometric file, each with the line it stands on."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np

from render.emission.measured.web import Floats
from render.errors import KitError

MOST_BYTES = 4_000_000  # twice the largest sensible file, 0.5° all round
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
NUMERALS = frozenset("0123456789+-.eE")
LARGEST = 1e12  # no quantity of a lamp is beyond it, in any unit of these files
LEAST_STEP_DEG = 1e-3  # goniometers do not turn more finely
SHOWN = 40  # letters of a found word that an error repeats
END_OF_FILE = "\x1a"  # written by old systems after the last line


class Word(NamedTuple):
    """One word of the file and its line, counted from 1."""

    text: str
    line: int


def refuse(file: Path, line: int, found: str, accepted: str) -> KitError:
    """The error that names file, line (0: none), what was found and what would be accepted."""
    return KitError(file, f"line {line}" if line else "", found, f"accepted: {accepted}")


def read_lines(file: Path) -> list[str]:
    """Lines of a text file in UTF-8 or Latin-1, with any of the usual line ends.

    Raises KitError where the file is missing, too large, empty or not text.
    """
    wanted = "a photometric file (.ies or .ldt) that can be read"
    try:
        if file.exists() and not file.is_file():  # a pipe would keep us waiting
            raise refuse(file, 0, "not a file", wanted)
        with file.open("rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except (OSError, ValueError) as problem:  # ValueError: a name with a zero byte
        reason = getattr(problem, "strerror", None) or "cannot be read"
        raise refuse(file, 0, reason.lower(), wanted) from None
    if len(data) > MOST_BYTES:
        wanted = f"a photometric file of at most {MOST_BYTES // 1_000_000} MB"
        raise refuse(file, 0, "the file is too large", wanted)
    if b"\0" in data:
        raise refuse(file, 0, "not a text file", "a photometric file (.ies or .ldt)")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    # Not str.splitlines: signs such as the ellipsis of old code pages would count as line ends.
    text = text.replace("\r\n", "\n").replace("\r", "\n").rstrip(END_OF_FILE + "\n \t")
    if not text:
        raise refuse(file, 0, "the file is empty", "a photometric file (.ies or .ldt)")
    return text.split("\n")


def words_of(lines: list[str], first_line: int) -> list[Word]:
    """Words separated by blanks, commas or line ends; the first line has that number."""
    return [
        Word(text, first_line + i)
        for i, line in enumerate(lines)
        for text in line.replace(",", " ").split()
    ]


def number(file: Path, word: Word, what: str, low: float = -math.inf) -> float:
    """A sensible number of at least `low`; raises KitError that says what it should be."""
    if NUMBER.fullmatch(word.text):
        value = float(word.text)
        if abs(value) <= LARGEST and value >= low:
            return value
    limit = f" up to {LARGEST:g}" if low == -math.inf else f" from {low:g} to {LARGEST:g}"
    shown = word.text[:SHOWN].replace('"', "'")
    raise refuse(file, word.line, f'found "{shown}" for {what}', f"a number{limit}")


def count(file: Path, word: Word, what: str, low: int, high: int) -> int:
    """A whole number between two limits; raises KitError."""
    value = number(file, word, what)
    if value != int(value) or not low <= value <= high:
        raise refuse(
            file, word.line, f"found {value:g} for {what}", f"a whole number from {low} to {high}"
        )
    return int(value)


def angles(file: Path, words: list[Word], what: str, low: float, high: float) -> list[float]:
    """Angles that ascend between two limits [degrees]; raises KitError."""
    found = [number(file, word, what) for word in words]
    for i, (value, word) in enumerate(zip(found, words, strict=True)):
        if not low <= value <= high:
            wanted = f"angles from {low:g} to {high:g} degrees"
            raise refuse(file, word.line, f"found {value:g} for {what}", wanted)
        if i and value < found[i - 1] + LEAST_STEP_DEG:
            wanted = f"ascending angles, {LEAST_STEP_DEG:g} or more apart"
            raise refuse(file, word.line, f"{what}: {value:g} after {found[i - 1]:g}", wanted)
    return found


def intensities(file: Path, words: list[Word], factor: float) -> Floats:
    """Intensities (n,) [cd], the numbers of the file x its factors; raises KitError."""
    texts = [word.text for word in words]
    try:
        found = np.array(texts, float) if NUMERALS.issuperset("".join(texts)) else None
    except ValueError:
        found = None
    if found is None or not np.all((found >= 0) & (found <= LARGEST)):
        found = np.array([number(file, word, "an intensity", 0) for word in words])  # which one
    found = found * factor
    if not found.any():
        wanted = "at least one intensity above 0"
        raise refuse(file, words[0].line, "every intensity is 0", wanted)
    if np.max(found) > LARGEST:
        wanted = f"at most {LARGEST:g} cd"
        raise refuse(file, words[0].line, f"intensities up to {np.max(found):.3g} cd", wanted)
    return found
