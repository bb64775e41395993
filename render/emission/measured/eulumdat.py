"""EULUMDAT files (.ldt): one item a line, intensities per 1000 lm of the lamps.

Source: the published line tables of the format (items 1 to 26, angles, intensities). That C90 lies
along a long lamp and planes turn counter-clockwise seen from above is from memory.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from render.emission.measured.beam import MeasuredBeam
from render.emission.measured.text import Word, angles, count, intensities, number, refuse
from render.emission.measured.unfold import all_planes
from render.emission.measured.web import Floats

NAME, SYMMETRY, PLANES, GAMMAS = 9, 3, 4, 6  # items, which are also lines
LENGTH, WIDTH, DEPTH, CONVERSION, SETS = 16, 17, 18, 24, 26
SET_LINES = 6  # number, type, flux, colour, rendering, watts of a set of lamps
SET_FLUX = 2  # its flux, counted from 0
MOST_SETS = 20
RATIOS = 10  # direct ratios, which follow the sets of lamps
MOST_ANGLES = 3601  # a full circle in tenths of a degree
PER_LM = 1e-3  # intensities are given per 1000 lm
METRES = 1e-3  # sizes are in millimetres
LARGEST_MM = 50_000.0  # of a lit opening; longer is a slip of units
TITLE_LENGTH = 80
ENDS = {2: (0.0, 180.0), 3: (90.0, 270.0), 4: (0.0, 90.0)}  # of the planes a symmetry keeps


def is_eulumdat(lines: list[str]) -> bool:
    """Whether the items that count symmetry, planes and gammas are whole numbers."""
    items = [lines[i - 1].strip() for i in (SYMMETRY, PLANES, GAMMAS) if i <= len(lines)]
    return len(items) == 3 and all(item.isascii() and item.isdigit() for item in items)


def read_eulumdat(file: Path, lines: list[str]) -> MeasuredBeam:
    """The beam of a EULUMDAT file; raises KitError with line, what was found and what is accepted.

    Intensities are the file's values x flux of the first set of lamps / 1000 x conversion factor;
    further sets are alternatives. Absolute files (a negative number of lamps) state the flux of
    the luminaire there, so the same product holds.
    """
    symmetry = count(file, _item(file, lines, SYMMETRY), "the symmetry", 0, 4)
    all_turns = count(file, _item(file, lines, PLANES), "the number of C planes", 1, MOST_ANGLES)
    downs = count(file, _item(file, lines, GAMMAS), "the number of gamma angles", 2, MOST_ANGLES)
    sets = count(file, _item(file, lines, SETS), "the number of lamp sets", 1, MOST_SETS)
    conversion = _above_0(file, _item(file, lines, CONVERSION), "the conversion factor")
    flux_line = SETS + 1 + SET_FLUX
    flux = _above_0(file, _item(file, lines, flux_line), "the luminous flux of the lamps")
    first = SETS + 1 + sets * SET_LINES + RATIOS  # line of the first C angle
    kept = _kept(file, symmetry, all_turns)
    last = first + all_turns + downs + len(kept) * downs - 1
    if len(lines) != last:
        found = f"{len(lines)} lines"
        wanted = f"{last}, as symmetry {symmetry}, {all_turns} planes and {downs} gammas ask"
        raise refuse(file, len(lines), found, wanted)
    words = [_item(file, lines, line) for line in range(first, last + 1)]
    gammas = angles(file, words[all_turns : all_turns + downs], "a gamma angle", 0, 180)
    if gammas[0] not in (0, 90):
        wanted = "0, or 90 for a lamp that shines upwards only"
        found = f"found {gammas[0]:g} as first gamma angle"
        raise refuse(file, words[all_turns].line, found, wanted)
    turns = _turns(file, symmetry, words[:all_turns], kept)
    table = intensities(file, words[all_turns + downs :], flux * PER_LM * conversion)
    table = table.reshape(len(kept), downs)
    planes, table = all_planes(file, first, turns, _in_order(symmetry, turns, table))
    width, height, depth, is_round = _opening(file, lines)
    title = lines[NAME - 1].strip()[:TITLE_LENGTH]
    return MeasuredBeam(
        title, np.array(gammas), planes, table, flux, width, height, depth, is_round
    )


def _item(file: Path, lines: list[str], line: int) -> Word:
    """The number on a line, with a point even where the file has a decimal comma."""
    if line > len(lines):
        raise refuse(file, len(lines), "the file ends early", f"at least {line} lines")
    return Word(lines[line - 1].strip().replace(",", "."), line)


def _above_0(file: Path, word: Word, what: str) -> float:
    value = number(file, word, what)
    if value <= 0:
        raise refuse(file, word.line, f"found {value:g} for {what}", "a number above 0")
    return value


def _kept(file: Path, symmetry: int, planes: int) -> list[int]:
    """Which of the planes (counted from 0) the file gives, in its order."""
    if symmetry == 0:
        return list(range(planes))
    if symmetry == 1:
        return [0]
    part = 4 if symmetry > 2 else 2
    if planes % part:
        found = f"found {planes} C planes with symmetry {symmetry}"
        raise refuse(file, PLANES, found, f"a number that divides by {part}")
    if symmetry == 2:
        return list(range(planes // 2 + 1))
    if symmetry == 4:
        return list(range(planes // 4 + 1))
    # Mirrored at C90-C270: from C270 over C0 to C90.
    return [i % planes for i in range(3 * planes // 4, 5 * planes // 4 + 1)]


def _turns(file: Path, symmetry: int, words: list[Word], kept: list[int]) -> list[float]:
    """Angles of the planes that the file gives, from 0 upwards as `all_planes` takes them."""
    if symmetry == 1:
        return [0.0]
    given = angles(file, words, "a C angle", 0, 360)
    turns = [given[i] for i in kept]
    if symmetry == 0:
        return turns if turns[-1] == 360 else [*turns, 360.0]
    if symmetry == 3:
        turns = [(540 - turn) % 360 for turn in turns][::-1]
    wanted = ENDS[symmetry]
    if (turns[0], turns[-1]) != wanted:
        raise refuse(
            file,
            words[kept[-1]].line,
            f"the planes of symmetry {symmetry} run from {turns[0]:g} to {turns[-1]:g}",
            f"from {wanted[0]:g} to {wanted[1]:g} degrees",
        )
    return turns


def _in_order(symmetry: int, turns: list[float], table: Floats) -> Floats:
    """Intensities (k, g) in the order of `_turns`."""
    if symmetry == 3:
        return table[::-1]
    if len(turns) > len(table):  # the circle closes with its first plane
        return np.concatenate([table, table[:1]])
    return table


def _opening(file: Path, lines: list[str]) -> tuple[float, float, float, bool]:
    """Width, height, depth [m] of the lit area along C0, C90 and the axis; whether it is round."""
    sizes = []
    for line in (WIDTH, LENGTH, *range(DEPTH, DEPTH + 4)):
        word = _item(file, lines, line)
        size = number(file, word, "a size of the lit area", 0) if word.text else 0.0
        if size > LARGEST_MM:
            found = f"a lit area of {size:g} mm"
            raise refuse(file, line, found, f"at most {LARGEST_MM:g} mm")
        sizes.append(size * METRES)
    width, length = sizes[:2]
    is_round = width == 0 and length > 0
    return length if is_round else width, length, max(sizes[2:]), is_round
