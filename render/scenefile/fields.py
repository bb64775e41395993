"""What each key of a scene or kit file accepts, said in words from the models themselves."""

from __future__ import annotations

import types
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from render.studio.part import OWN_WORDS, Part

UNITS = {
    "_lm_per_ws": "lm/(W·s)",
    "_lm_s": "lm·s",
    "_ws": "W·s",
    "_lm_per_w": "lm/W",
    "_w": "W",
    "_lx": "lx",
    "_kg": "kg",
    "_deg": "degrees",
    "_stops": "stops",
    "_k_per_stop": "K a stop",
    "_k": "K",
    "_nm": "nm",
    "_mm": "mm",
    "_cm": "cm",
    "_m": "m",
    "_s": "s",
}
COUNT_WORDS = {2: "two", 3: "three"}


def unit(key: str) -> str:
    """Unit that a key's name carries, or "" where it has none."""
    if key.startswith("c_"):
        return "lx·s"
    return next((word for suffix, word in UNITS.items() if key.endswith(suffix)), "")


def choices(annotation: Any) -> list[Any]:
    """Members of a union without None; a list of one for anything else."""
    if get_origin(annotation) in (Union, types.UnionType):
        return [kind for kind in get_args(annotation) if kind is not type(None)]
    return [annotation]


def part_of(annotation: Any) -> tuple[type[Part] | None, str]:
    """The Part inside an annotation and how it is held: "one", "named" or "list"."""
    for kind in choices(annotation):
        if isinstance(kind, type) and issubclass(kind, Part):
            return kind, "one"
        inner = get_args(kind)
        if get_origin(kind) is dict and issubclass(inner[1], Part):
            return inner[1], "named"
        if get_origin(kind) is tuple and isinstance(inner[0], type) and issubclass(inner[0], Part):
            return inner[0], "list"
    return None, ""


def bounds(info: FieldInfo) -> str:
    """The range of a number, such as "from 0 to 0.95", "above 0 up to 15"."""
    low, high = "", ""
    for rule in info.metadata:
        if getattr(rule, "ge", None) is not None:
            low = f"from {rule.ge:g}"
        if getattr(rule, "gt", None) is not None:
            low = f"above {rule.gt:g}"
        if getattr(rule, "le", None) is not None:
            high = f"to {rule.le:g}" if low.startswith("from") else f"up to {rule.le:g}"
    return " ".join(word for word in (low, high) if word)


def accepted(key: str, info: FieldInfo) -> str:
    """One phrase for what a key accepts, with its unit and range."""
    # Powers, times and crops carry their own wording.
    if info.description in OWN_WORDS:
        return str(info.description)
    phrases = [_phrase(kind, bounds(info)) for kind in choices(info.annotation)]
    name = unit(key)
    return " or ".join(dict.fromkeys(phrases)) + (f" [{name}]" if name else "")


def _phrase(kind: Any, limits: str) -> str:
    if get_origin(kind) is Annotated:
        limits = next(filter(None, map(bounds, _rules(kind))), "")
        return _phrase(get_args(kind)[0], limits)
    if get_origin(kind) is Literal:
        return "one of " + ", ".join(f'"{choice}"' for choice in get_args(kind))
    if get_origin(kind) is tuple:
        inner = get_args(kind)
        if inner[-1] is Ellipsis:
            return _list_phrase(inner[0])
        each = bounds(inner[0].__metadata__[0]) if get_origin(inner[0]) is Annotated else ""
        return " ".join(f"{COUNT_WORDS[len(inner)]} numbers {each} in brackets".split())
    if get_origin(kind) is dict:
        return "named tables"
    if kind is bool:
        return "true or false"
    if kind is float:
        return f"a number {limits}".strip()
    if kind is int:
        return f"a whole number {limits}".strip()
    if kind is str:
        return "text"
    if isinstance(kind, type) and issubclass(kind, Part):
        return "a table"
    return "a date such as 2026-10-04" if getattr(kind, "__name__", "") == "date" else "a value"


def _rules(kind: Any) -> list[FieldInfo]:
    """What an annotated kind says of its range."""
    return [rule for rule in kind.__metadata__ if isinstance(rule, FieldInfo)]


def _list_phrase(kind: Any) -> str:
    if get_origin(kind) is Annotated:
        return f"a list of numbers {bounds(kind.__metadata__[0])}".strip()
    if get_origin(kind) is Literal:
        return "a list, each one of " + ", ".join(f'"{each}"' for each in get_args(kind))
    return "a list of texts" if kind is str else "a list of tables"


def tables(root: type[Part], name: str = "") -> Iterator[tuple[str, type[Part]]]:
    """Every table of a file, outermost first: its heading and its model."""
    yield name, root
    for key, info in root.model_fields.items():
        part, held = part_of(info.annotation)
        if part is not None:
            path = f"{name.strip('[]')}.{key}" if name else key
            heading = {"one": f"[{path}]", "named": f"[{path}.NAME]", "list": f"[[{path}]]"}[held]
            yield from tables(part, heading)
