"""What changes from picture to picture: one key of the scene file and the values it takes."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from render.errors import OutputError
from render.scenefile.fields import UNITS, part_of, unit
from render.scenefile.parse import tables_in
from render.studio.part import Part
from render.studio.scene import Scene

OPTION = "--vary"
MOST_CELLS = 400  # pictures of a series: 20 by 20, more than anybody compares
LEFT_OUT = "-"  # as a value: the key is not in the file
MOST_VARIABLES = 2  # a row or a grid
NAMED = ("light", "panel", "point", "wanted")  # tables whose names are said without them
SIGNS = {"degrees": "°", "stops": " stops"}  # units as they are said after a number
NEAR = 0.5  # likeness from which another key is suggested; a choice
SUGGESTED = 3  # at most, of keys that end alike


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a key."""

    found: Any  # as in the file; None leaves the key out
    text: str  # as it was written
    words: str = ""  # how it is said, where not as it was written


@dataclass(frozen=True, slots=True)
class Variable:
    """A key of the scene file and the values that it is to take, in order."""

    key: str  # as "light.key.distance_m"
    values: tuple[Value, ...]

    @property
    def words(self) -> str:
        """The key as it is said, without its unit: "key distance"."""
        parts = self.key.split(".")
        parts = parts[1:] if parts[0] in NAMED else parts
        last = next((parts[-1].removesuffix(s) for s in UNITS if parts[-1].endswith(s)), parts[-1])
        if parts[0] == "sitter" and last == "model":
            return "sitter"
        words = " ".join([*parts[:-1], last]).replace("f_number", "f-number")
        return words.replace("_", " ")

    def said(self, value: Value) -> str:
        """A value with its unit: "0.7 m", "bob"; "none" where the key is left out."""
        if value.words:
            return value.words
        if value.found is None:
            return "none"
        if isinstance(value.found, list) and all(isinstance(e, str) for e in value.found):
            return ", ".join(value.found)
        name = unit(self.key.rpartition(".")[2])
        if name == "cm" and isinstance(value.found, list):
            return " × ".join(map(str, value.found)) + f" {name}"
        number = isinstance(value.found, int | float) and not isinstance(value.found, bool)
        return value.text + (SIGNS.get(name, f" {name}") if name and number else "")

    def change(self, value: Value) -> str:
        """What it is set to, in words: "key distance 0.7 m"."""
        return f"{self.words} {self.said(value)}"


def read_variables(asked: list[str], tables: Mapping[str, Any]) -> tuple[Variable, ...]:
    """Variables as written on the command line, "light.key.distance_m=0.7,1,1.4".

    tables : of the scene file; names of lights and panels come from there
    Raises OutputError for an unknown key or no values; values are checked with each cell.
    """
    if not 1 <= len(asked) <= MOST_VARIABLES:
        many = f"found {len(asked)}" if asked else "found none"
        raise OutputError(f"{OPTION}: {many} (accepted: one or two, as KEY=V1,V2,...)")
    found = tuple(_variable(each, tables) for each in asked)
    if len({each.key for each in found}) < len(found):
        raise OutputError(f"{OPTION}: found {found[0].key} twice (accepted: two different keys)")
    _check_count(math.prod(len(each.values) for each in found))
    return found


def _check_count(count: int) -> None:
    """Raise OutputError for more pictures than a series has."""
    if count > MOST_CELLS:
        raise OutputError(f"{OPTION}: found {count} pictures (accepted: at most {MOST_CELLS})")


def _variable(asked: str, tables: Mapping[str, Any]) -> Variable:
    key, equals, listed = (part.strip() for part in asked.partition("="))
    if not equals or not key:
        raise OutputError(f'{OPTION}: found "{asked}" (accepted: KEY=V1,V2,...)')
    _check_key(key, tables)
    texts = [text.strip() for text in split(listed)]
    _check_count(len(texts))
    if not all(texts):
        raise OutputError(
            f"{OPTION}: {key}: found nothing for one of its values (accepted: values with commas "
            f"between them, {LEFT_OUT} to leave the key out)"
        )
    values = tuple(Value(_read(text), text.strip("\"'")) for text in texts)
    for k, value in enumerate(values):
        if value.found in [each.found for each in values[:k]]:
            raise OutputError(f"{OPTION}: {key}: found {value.text} twice (accepted: it once)")
    return Variable(key, values)


def split(listed: str) -> list[str]:
    """Texts between the commas that stand outside brackets and quotes."""
    texts, depth, quote = [""], 0, ""
    for letter in listed:
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        depth += (letter in "[{") - (letter in "]}") if not quote else 0
        if letter == "," and depth <= 0 and not quote:
            texts.append("")
        else:
            texts[-1] += letter
    return texts


def _read(text: str) -> Any:
    """A value as TOML has it; what is no TOML is a text, so that names need no quotes."""
    if text == LEFT_OUT:
        return None
    if not re.search(r"[\n#]", text):
        try:
            return tables_in(f"value = {text}")["value"]
        except tomllib.TOMLDecodeError:
            pass
    return text


def _check_key(key: str, tables: Mapping[str, Any]) -> None:
    """Raise OutputError, with the nearest keys, unless the scene can have this key."""
    known = tuple(every_key(Scene, tables))
    if key in known:
        return
    last = key.rpartition(".")[2]
    near = [each for each in known if each.rpartition(".")[2] == last]
    near = near or [each for each in known if each.startswith(f"{key}.")]
    near = near or difflib.get_close_matches(key, known, 1, NEAR)
    near = sorted(near, key=lambda e: -difflib.SequenceMatcher(None, e, key).ratio())[:SUGGESTED]
    if near:
        wanted = f"did you mean {' or '.join(near)}?"
    else:
        wanted = "accepted: a key of the scene file, as light.NAME.distance_m"
    raise OutputError(f"{OPTION}: {key}: unknown key ({wanted})")


def every_key(model: type[Part], tables: Any, path: str = "") -> Iterator[str]:
    """Every dotted key that a scene can have, with the names of its own lights and panels."""
    here = tables if isinstance(tables, Mapping) else {}
    for name, info in model.model_fields.items():
        inner, held = part_of(info.annotation)
        if inner is None:
            yield path + name
        elif held == "one":
            yield from every_key(inner, here.get(name), f"{path}{name}.")
        elif held == "named":
            entries = here.get(name)
            for each, entry in (entries if isinstance(entries, Mapping) else {}).items():
                yield from every_key(inner, entry, f"{path}{name}.{each}.")
