"""What the argument reader refuses, in one sentence: the option, what was found, what is accepted.

Its own errors say what they found in words of its own that change from version to version, and in
a box; only who refused, and whose option it was, is taken from them.
"""

from __future__ import annotations

import difflib
import inspect
import math
from collections.abc import Mapping, Sequence
from enum import Enum
from typing import Any, Literal, get_args, get_origin, get_type_hints

import typer

from render.errors import OutputError, short

# The root of the argument reader's errors; which package it lives in depends on the version.
Refusal: type[Any] = next(
    kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException"
)
NEAR = 0.6  # how alike a name must be to be suggested
HELP = "--help"  # of every command
DIGITS = 300  # longer numbers are none that anybody means, and no float holds them


def refused(problem: Any, words: Sequence[str], commands: Mapping[str, Any]) -> OutputError:
    """The error that a refusal of the argument reader stands for.

    words    : the command line, without the program's name
    commands : all there are, by name
    """
    first = words[0]
    named = _as_written(getattr(problem, "option_name", None), words)
    command = commands.get(first)
    if command is None:
        if named:
            return OutputError(
                f"{short(named)}: unknown option ({_meant(named, [HELP], 'options')})"
            )
        known = _meant(first, list(commands), "commands")
        return OutputError(f"{short(first) or _quoted(first)}: unknown command ({known})")
    if named and named not in _names(command):
        options = [name for name in _names(command) if name.startswith("--")]
        wanted = _meant(named, options, "options")
        return OutputError(f"{short(named)}: unknown option of {first} ({wanted})")
    if named:
        return _unvalued(named, command, words)
    parameter = getattr(problem, "param", None)
    if parameter is not None:
        return _valued(parameter, command, words)
    return _too_many(problem, command)


def _as_written(named: str | None, words: Sequence[str]) -> str | None:
    """An option as the user wrote it: of a word with one dash the reader tells its first letter."""
    if named is None or named.startswith("--"):
        return named
    return next((word for word in words if word.startswith(named)), named)


def _meant(word: str, known: Sequence[str], what: str) -> str:
    """The nearest of the known names, or all of them."""
    near = difflib.get_close_matches(word, known, 1, NEAR)
    return f"did you mean {near[0]}?" if near else f"known {what}: {', '.join(known)}"


def _names(command: Any) -> list[str]:
    own = [name for each in command.params for name in (*each.opts, *each.secondary_opts)]
    return [*own, HELP]


def _unvalued(named: str, command: Any, words: Sequence[str]) -> OutputError:
    """An option that lacks its value, or has one that it does not take."""
    owners = [each for each in command.params if named in (*each.opts, *each.secondary_opts)]
    values = _given((named,), words)
    if not owners or owners[0].is_flag:
        found = _quoted(values[-1]) if values else "a value"
        return OutputError(f"{named}: found {found} (accepted: the option without a value)")
    kind, said = _kind(command, owners[0])
    return OutputError(f"{named}: found no value (accepted: {_accepted(kind, said)})")


def _valued(parameter: Any, command: Any, words: Sequence[str]) -> OutputError:
    """A value that is missing, or is none of those accepted."""
    kind, said = _kind(command, parameter)
    accepted = _accepted(kind, said)
    if parameter.param_type_name == "argument":
        name = (parameter.metavar or parameter.name).strip("[]{}").upper()
        return OutputError(f"{name}: found none (accepted: {said.help or accepted})")
    named = parameter.opts[0]
    values = _given(parameter.opts, words)
    wrong = [value for value in values if not _fits(value, kind, said)] or values[-1:]
    if not wrong:
        return OutputError(f"{named}: found none (accepted: {accepted})")
    near = difflib.get_close_matches(wrong[0], _choices(kind), 1, NEAR)
    meant = f"; did you mean {near[0]}?" if near else ""
    return OutputError(f"{named}: found {_quoted(wrong[0])} (accepted: {accepted}{meant})")


def _too_many(problem: Any, command: Any) -> OutputError:
    """More words than the command has arguments."""
    taken = [each for each in command.params if each.param_type_name == "argument"]
    names = " ".join((each.metavar or each.name).strip("[]{}") for each in taken)
    wanted = f"{names}, and options" if names else "options alone"
    found = short(problem.format_message().rpartition("(")[2].rstrip(".)"))
    return OutputError(f"{command.name}: found {_quoted(found)} too many (accepted: {wanted})")


def _given(names: Sequence[str], words: Sequence[str]) -> list[str]:
    """The values that the command line gives an option."""
    found = []
    for at, word in enumerate(words):
        name, sign, value = word.partition("=")
        if name in names and (sign or at + 1 < len(words)):
            found.append(value if sign else words[at + 1])
    return found


def _kind(command: Any, parameter: Any) -> tuple[Any, Any]:
    """The type of one value of a parameter, and what its annotation says besides."""
    hints = get_type_hints(inspect.unwrap(command.callback), include_extras=True)
    kind, said = get_args(hints[parameter.name])[:2]
    inner = [each for each in get_args(kind) if each is not type(None)]
    while get_origin(kind) is not Literal and inner:
        kind = inner[0]
        inner = [each for each in get_args(kind) if each is not type(None)]
    return kind, said


def _choices(kind: Any) -> list[str]:
    if get_origin(kind) is Literal:
        return list(get_args(kind))
    return [each.value for each in kind] if issubclass(kind, Enum) else []


def _accepted(kind: Any, said: Any) -> str:
    """What an option accepts, in words."""
    choices = _choices(kind)
    if choices:
        return ", ".join(choices)
    if kind not in (int, float):
        return said.help or "a text"
    number = "a whole number" if kind is int else "a number"
    if said.min is not None and said.max is not None:
        return f"{number} from {said.min:g} to {_plain(said.max)}"
    return f"{number} from {said.min:g} on" if said.min is not None else number


def _plain(value: float) -> str:
    return str(value) if isinstance(value, int) else f"{value:g}"


def _fits(word: str, kind: Any, said: Any) -> bool:
    """Whether a value is one of those accepted."""
    if _choices(kind):
        return word in _choices(kind)
    if kind not in (int, float):
        return True
    if len(word) > DIGITS:
        return False
    try:
        value = kind(word)
    except ValueError:
        return False
    if not math.isfinite(value):
        return False
    least = said.min if said.min is not None else -math.inf
    most = said.max if said.max is not None else math.inf
    return bool(least <= value <= most)


def _quoted(word: str) -> str:
    return f'"{short(word)}"'
