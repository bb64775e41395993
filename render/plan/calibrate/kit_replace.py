"""Kit readings that newer ones take the place of: kept in their file as comments, with the date."""

from __future__ import annotations

import datetime
import os
import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from render.errors import KitError, OutputError
from render.layout.calibration import readings_of
from render.plan.calibrate.kit_entries import NOTHING, OPTION, Entry, put, tables
from render.scenefile import Setup
from render.scenefile.kits import ReadingPlace
from render.scenefile.parse import read_part
from render.studio.kit import Kit, KitReading
from render.studio.light import Light

REPLACE = "--replace"
HEADER = re.compile(r"\s*\[")
READING = re.compile(r"\s*\[\[\s*reading\s*\]\]")


@dataclass(frozen=True, slots=True)
class Retired:
    """Readings of a kit file that give way, by their index there."""

    file: Path
    indices: tuple[int, ...]
    words: str  # which flash and modifier


def refuse_older(setup: Setup, lights: Iterable[str], file: Path) -> None:
    """Raise OutputError where the kit has readings of a light as it is worn."""
    for name in lights:
        light = setup.scene.light[name]
        if light.flash is None or light.modifier is None:
            continue
        for each in readings_of(setup, light.flash, light.modifier):
            old = each.reading
            if _worn(setup, old) != _worn(setup, light):
                continue
            when = f" of {old.date.isoformat()}" if old.date is not None else ""
            raise OutputError(
                f"{OPTION}: {each.place.file.name} has a reading of {old.flash} with "
                f"{old.modifier}{when} already, and with {file.name} the mean of both would count "
                f"(accepted: {REPLACE}, which makes a comment of it, or take it out)"
            )


def write_readings(
    setup: Setup, file: Path, scene: str, found: Sequence[Entry]
) -> tuple[Retired, ...]:
    """Write readings into a kit file, new or not; those that they replace become comments.

    Older readings of the same flash and modifier as worn give way in this file and in the kit
    files of the scene. Nothing is written unless all of it can be.
    Raises OutputError, and KitError where readings that stay contradict the new ones.
    """
    if not found:
        raise OutputError(NOTHING)
    there = read_part(file, Kit, KitError).reading if file.exists() else ()
    known = [(each, ReadingPlace(file, f"reading[{i}]")) for i, each in enumerate(there)]
    for reading, place in zip(setup.kit.reading, setup.reading_places, strict=True):
        if not (file.exists() and place.file.samefile(file)):
            known.append((reading, place))
    new = {_worn(setup, each.reading) for each in found}
    old = [pair for pair in known if _worn(setup, pair[0]) in new]
    _check_rest(setup, [pair for pair in known if pair not in old], file, found)
    retired = _by_file(old)
    texts = {each.file: _without(each, scene) for each in retired}
    text = texts.get(file, file.read_text(encoding="utf-8-sig") if file.exists() else "")
    texts[file] = _with(file, text, scene, found)
    for each in texts:
        if not os.access(each if each.exists() else each.parent, os.W_OK):
            raise OutputError(f"{OPTION}: {each} cannot be written (accepted: a file that can)")
    there_already = {each for each in texts if each.exists()}
    for each, words in texts.items():
        try:
            put(each, words, over=each in there_already)
        except OSError as problem:
            reason = (problem.strerror or "cannot be written").lower()
            raise OutputError(f"{OPTION}: {each}: {reason} (accepted: a new name)") from None
    return retired


def _worn(setup: Setup, worn: KitReading | Light) -> tuple[object, ...]:
    """Flash and modifier with cloths, grid and sheets, of a reading or a light."""
    usual = setup.kit.modifier[worn.modifier or ""].diffusers
    cloths = usual if worn.diffusers is None else worn.diffusers
    grid = worn.grid if worn.grid is not None else worn.grid_deg
    return worn.flash, worn.modifier, cloths, grid, tuple(sorted(worn.gel)), worn.nd


def _check_rest(
    setup: Setup,
    rest: Sequence[tuple[KitReading, ReadingPlace]],
    file: Path,
    found: Sequence[Entry],
) -> None:
    """Raise KitError where the kit, as it will be, contradicts itself."""
    new = [(each.reading, ReadingPlace(file, "new reading")) for each in found]
    every = [*rest, *new]
    kit = setup.kit.model_copy(update={"reading": tuple(reading for reading, _ in every)})
    then = replace(setup, kit=kit, reading_places=tuple(place for _, place in every))
    for each in found:
        readings_of(then, each.reading.flash, each.reading.modifier)


def _by_file(old: Sequence[tuple[KitReading, ReadingPlace]]) -> tuple[Retired, ...]:
    files = dict.fromkeys(place.file for _, place in old)
    made = []
    for file in files:
        mine = [(reading, place) for reading, place in old if place.file == file]
        names = dict.fromkeys(f"{reading.flash} with {reading.modifier}" for reading, _ in mine)
        indices = tuple(int(place.key.removeprefix("reading[").rstrip("]")) for _, place in mine)
        made.append(Retired(file, indices, ", ".join(names)))
    return tuple(made)


def _without(retired: Retired, scene: str) -> str:
    """The text of a kit file with some of its readings as comments; raises OutputError."""
    text = retired.file.read_text(encoding="utf-8-sig")
    lines = text.splitlines()
    starts = [i for i, line in enumerate(lines) if READING.match(line)]
    said = f"# replaced on {datetime.date.today().isoformat()} by readings of: {_plain(scene)}"
    for start in (starts[k] for k in reversed(retired.indices) if k < len(starts)):
        end = start + 1
        while end < len(lines) and not HEADER.match(lines[end]):
            end += 1
        while end > start + 1 and (not lines[end - 1].strip() or lines[end - 1][0] == "#"):
            end -= 1  # what stands before the next table is about that
        kept = [f"# {line}" if line.strip() else "#" for line in lines[start:end]]
        lines[start:end] = [said, *kept]
    new = "\n".join(lines) + "\n"
    wanted = tomllib.loads(text)
    wanted["reading"] = [
        each for i, each in enumerate(wanted["reading"]) if i not in retired.indices
    ]
    if not wanted["reading"]:
        del wanted["reading"]
    _check_says(retired.file, new, wanted)
    return new


def _with(file: Path, text: str, scene: str, found: Sequence[Entry]) -> str:
    """The text of a kit file with readings added at its end; raises OutputError."""
    added = tables(scene, found)
    new = f"{text.rstrip()}\n\n{added}" if text.strip() else added
    wanted = tomllib.loads(text)
    wanted["reading"] = wanted.get("reading", []) + tomllib.loads(added)["reading"]
    _check_says(file, new, wanted)
    return new


def _check_says(file: Path, text: str, wanted: dict[str, Any]) -> None:
    """Raise OutputError where an edited file would not say what it should."""
    try:
        right = tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        right = False
    if not right:
        raise OutputError(
            f"{OPTION}: the readings in {file} cannot be edited (accepted: [[reading]] tables, or "
            "a new name)"
        )


def _plain(text: str) -> str:
    return " ".join(text.split())
