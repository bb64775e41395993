"""ANSI/IES LM-63 files (.ies), from the header-less form of 1986 to that of 2019.

A title, a TILT line, ten numbers, three more, the vertical and the horizontal angles, and one
intensity for each pair. Source: LM-63-2002 (key definitions) and descriptions of the other forms.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from render.emission.measured.beam import MeasuredBeam
from render.emission.measured.text import (
    Word,
    angles,
    count,
    intensities,
    number,
    read_lines,
    refuse,
    words_of,
)
from render.emission.measured.unfold import all_planes, from_floodlight
from render.emission.measured.web import Floats

TILT = re.compile(r"\s*TILT\s*=\s*(.*?)\s*", re.IGNORECASE)
VERSION = re.compile(r"\s*IES(?:NA)?\s*:?\s*(?:LM-63-)?(\d{4}|\d{2})\b", re.IGNORECASE)
FIRST_VERSION = 1986  # has no version line
LAMP_FACTOR_ENDS = 1995  # from then on the number after the ballast factor is no factor
TITLES = ("[LUMINAIRE]", "[LUMCAT]", "[TEST]")  # keyword lines that name the lamp, best first
TITLE_LENGTH = 80
METRES = {1: 0.3048, 2: 1.0}  # of the units that a file may use: feet, metres
LARGEST_M = 50.0  # of a lit opening; longer is a slip of units
KINDS = {1: "C", 2: "B", 3: "A"}
MOST_ANGLES = 3601  # a full circle in tenths of a degree
MOST_TILT_PAIRS = 1000
HEAD = (
    "number of lamps",
    "lumens per lamp",
    "candela multiplier",
    "number of vertical angles",
    "number of horizontal angles",
    "photometric type",
    "units",
    "width",
    "length",
    "height",
    "ballast factor",
    "number after the ballast factor",
    "input watts",
)


@dataclass(frozen=True, slots=True)
class _Head:
    """The numbers before the angles."""

    lamp_flux_lm: float | None
    factor: float
    verticals: int
    horizontals: int
    kind: str
    sizes_m: tuple[float, float, float]  # width, length, height; negative where round


def is_lm63(lines: list[str]) -> bool:
    """Whether there is a TILT line, which every LM-63 file has."""
    return any(TILT.fullmatch(line) for line in lines)


def read_lm63(file: Path, lines: list[str]) -> MeasuredBeam:
    """The beam of an LM-63 file; raises KitError with line, what was found and what is accepted.

    Intensities are the file's values x multiplier x ballast factor (x ballast-lamp photometric
    factor, until 1991). The factors of a tilted lamp are checked and not applied: a flash tube
    burns alike in every position.
    """
    tilts = [(i, found[1]) for i, line in enumerate(lines) if (found := TILT.fullmatch(line))]
    if not tilts:
        raise refuse(file, 0, "no line with TILT=", "an LM-63 file with TILT=NONE, INCLUDE or file")
    at, tilt = tilts[0]
    words = _after_tilt(file, tilt, at + 1, words_of(lines[at + 1 :], at + 2))
    head = _head(file, words, _version(lines[:at]), len(lines))
    promised = len(HEAD) + head.verticals + head.horizontals + head.verticals * head.horizontals
    if len(words) != promised:
        wanted = f"{promised}, for {head.verticals} vertical x {head.horizontals} horizontal angles"
        raise refuse(file, words[-1].line, f"{len(words)} numbers after the TILT part", wanted)
    down, turn, cells = _split(words[len(HEAD) :], head.verticals, head.horizontals)
    candela = intensities(file, cells, head.factor)
    table = candela.reshape(head.horizontals, head.verticals)
    gammas, planes, table = _grid(file, head.kind, down, turn, table)
    flux = head.lamp_flux_lm
    return MeasuredBeam(_title(lines[:at]), gammas, planes, table, flux, *_opening(head))


def _version(header: list[str]) -> int:
    first = next((line for line in header if line.strip()), "")
    found = VERSION.match(first)
    if found is None:
        return FIRST_VERSION
    year = int(found[1])
    return year if year > 99 else 1900 + year


def _title(header: list[str]) -> str:
    for key in TITLES:
        for line in header:
            if line.strip().upper().startswith(key) and line.strip()[len(key) :].strip():
                return line.strip()[len(key) :].strip()[:TITLE_LENGTH]
    plain = [line.strip() for line in header if not VERSION.match(line)]
    return next((line for line in plain if line and line[0] != "["), "")[:TITLE_LENGTH]


def _after_tilt(file: Path, tilt: str, line: int, words: list[Word]) -> list[Word]:
    """The words after the tilt part, which is checked."""
    if tilt.upper() == "NONE":
        return words
    if tilt.upper() == "INCLUDE":
        return words[_tilt_length(file, words, line) :]
    wanted = "TILT=NONE, TILT=INCLUDE, or the name of a file in the same folder"
    if not tilt or Path(tilt).name != tilt or "\\" in tilt or ":" in tilt:
        raise refuse(file, line, f'found "TILT={tilt[:TITLE_LENGTH]}"', wanted)
    beside = file.parent / tilt
    if not _is_inside(beside, file.parent):
        raise refuse(file, line, f'no file "{tilt[:TITLE_LENGTH]}" beside it', wanted)
    inner = words_of(read_lines(beside), 1)
    if _tilt_length(beside, inner, 1) != len(inner):
        wanted = "a lamp position, a count, that many angles and as many factors"
        raise refuse(beside, inner[-1].line, f"{len(inner)} numbers", wanted)
    return words


def _is_inside(file: Path, folder: Path) -> bool:
    """Whether a file is there and no link leads out of the folder."""
    try:
        return file.is_file() and file.resolve().parent == folder.resolve()
    except (OSError, ValueError):  # a name too long or with a zero byte
        return False


def _tilt_length(file: Path, words: list[Word], line: int) -> int:
    """How many words the tilt part takes; raises KitError where it is not one."""
    if len(words) < 2:
        raise refuse(file, line, "the file ends in its tilt part", "a position and a count")
    count(file, words[0], "the position of the lamp", 1, 3)
    pairs = count(file, words[1], "the number of tilt angles", 1, MOST_TILT_PAIRS)
    if len(words) < 2 + 2 * pairs:
        found = f"{len(words) - 2} numbers for {pairs} tilt angles and factors"
        raise refuse(file, words[-1].line, found, f"{2 * pairs} numbers")
    angles(file, words[2 : 2 + pairs], "a tilt angle", 0, 180)
    for word in words[2 + pairs : 2 + 2 * pairs]:
        number(file, word, "a tilt factor", 0)
    return 2 + 2 * pairs


def _head(file: Path, words: list[Word], version: int, last_line: int) -> _Head:
    if len(words) < len(HEAD):
        found = f"the file ends after {len(words)} of the numbers that describe the lamp"
        raise refuse(file, words[-1].line if words else last_line, found, f"{len(HEAD)} numbers")
    named = dict(zip(HEAD, words, strict=False))
    values = {name: number(file, word, f"the {name}") for name, word in named.items()}
    verticals = count(file, named[HEAD[3]], f"the {HEAD[3]}", 2, MOST_ANGLES)
    horizontals = count(file, named[HEAD[4]], f"the {HEAD[4]}", 1, MOST_ANGLES)
    kind = count(file, named["photometric type"], "the photometric type", 1, 3)
    units = count(file, named["units"], "the units", 1, 2)
    factor = 1.0
    for name in ("candela multiplier", "ballast factor", HEAD[11]):
        if name == HEAD[11] and version >= LAMP_FACTOR_ENDS:
            continue  # reserved, and since 2019 a code of how the file was made
        if values[name] <= 0:
            raise refuse(
                file, named[name].line, f"found {values[name]:g} for the {name}", "above 0"
            )
        factor *= values[name]
    lumens = values["lumens per lamp"]
    lamp_flux = None if lumens < 0 else lumens * values["number of lamps"]
    metres = METRES[units]
    sizes = values["width"] * metres, values["length"] * metres, values["height"] * metres
    if max(map(abs, sizes)) > LARGEST_M:
        found = f"a lit opening of {max(map(abs, sizes)):g} m"
        raise refuse(file, named["width"].line, found, f"at most {LARGEST_M:g} m")
    return _Head(lamp_flux, factor, verticals, horizontals, KINDS[kind], sizes)


def _split(words: list[Word], down: int, turn: int) -> tuple[list[Word], list[Word], list[Word]]:
    return words[:down], words[down : down + turn], words[down + turn :]


def _grid(
    file: Path, kind: str, down: list[Word], turn: list[Word], table: Floats
) -> tuple[Floats, Floats, Floats]:
    """Gammas (g,), planes (p,) and intensities (p, g), all around."""
    if kind == "C":
        gammas = angles(file, down, "a vertical angle", 0, 180)
        if gammas[0] not in (0, 90):
            wanted = "0, or 90 for a lamp that shines upwards only"
            raise refuse(file, down[0].line, f"found {gammas[0]:g} as first vertical angle", wanted)
        given = angles(file, turn, "a horizontal angle", 0, 360)
        planes, table = all_planes(file, turn[0].line, given, table)
        return np.array(gammas), planes, table
    if len(turn) < 2:
        wanted = f"at least 2 for a file of type {kind}"
        raise refuse(file, turn[0].line, "found one horizontal angle", wanted)
    most = {"B": (180, 90), "A": (90, 180)}[kind]  # of the angle that turns, of the other
    rises = angles(file, down, "a vertical angle", -most[0], most[0])
    sides = angles(file, turn, "a horizontal angle", -most[1], most[1])
    return from_floodlight(kind, sides, rises, table)


def _opening(head: _Head) -> tuple[float, float, float, bool]:
    """Width, height, depth [m] along C0, C90 and the axis, and whether it is round.

    In LM-63 length lies along photometric horizontal and width across it; the light of a type C
    file points down, of type A along photometric horizontal. Types B and A are aimed upright.
    """
    width, length, height = head.sizes_m
    along = {"C": (length, width, height), "B": (width, length, height)}
    across, up, depth = along.get(head.kind, (width, height, length))
    is_round = across < 0 or up < 0
    if is_round and 0 in (across, up):  # a circle of 1995 states its diameter once
        across = up = across or up
    return abs(across), abs(up), abs(depth), is_round
